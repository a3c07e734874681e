// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// world is an array on a plate, and what is imaged.
type world struct {
	capture *fmc.Capture
	setup   *wedge.Setup
	grid    Grid
	views   []string
	options Options
}

// newWorld returns a world with random samples, and with plane waves if asked for.
func newWorld(seed uint64, waves bool) *world {
	w := &world{capture: randomCapture(seed, 6, 500, fmc.FullPairs(6)), setup: plate(), views: []string{"L-L", "L-T", "T-L"}}
	w.grid = check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.3e-3))
	if waves {
		w.options.Compound = &CompoundOptions{Taper: 0.2, LeastShare: 0.3}
		w.views = []string{"L-L", "L-T"}
		events := fan(w.capture.Array, -40, 35, 5, 5920, 5920)
		w.capture = check.Must(transmit.Encode(background, w.capture, events, nil))
	}
	return w
}

// images returns the images of all views in one pass.
func (w *world) images() [][]complex128 {
	views := check.Must(PlanViews(background, w.capture, w.setup, w.views, w.grid, &w.options))
	var all [][]complex128
	for _, im := range check.Must(views.Images(background, w.capture)) {
		wide := make([]complex128, len(im.Data))
		for p, v := range im.Data {
			wide[p] = complex128(v)
		}
		all = append(all, wide)
	}
	return all
}

// move moves the array and the grid along the plate.
func (w *world) move(x float64) {
	w.capture.Array.Elements = check.Must(w.capture.Array.Place(r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{X: x})).Elements
	w.grid.Origin.X += x
}

// enlarge multiplies all lengths and times by a factor.
func (w *world) enlarge(by float64) {
	c := w.capture
	c.Array.Width *= by
	c.Array.CentreFrequency /= by
	c.SampleRate /= by
	c.FirstSample *= by
	elements := make([]r3.Vec, len(c.Array.Elements))
	for i, e := range c.Array.Elements {
		elements[i] = r3.Scale(by, e)
	}
	c.Array.Elements = elements
	for e := range c.Events {
		for i := range c.Events[e].Delays {
			c.Events[e].Delays[i] *= by
		}
	}
	w.grid.Origin, w.grid.Step = r3.Scale(by, w.grid.Origin), r3.Scale(by, w.grid.Step)
	w.setup = check.Must(wedge.NewPlate(nil, material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}, 30e-3*by))
}

// TestInvariance checks that images of several views in one pass, of the full matrix and of
// compounded plane waves, follow changes of the capture: superposition; translation of the array
// and the grid along the plate; scaling of all lengths and times, which the wave equation allows.
func TestInvariance(t *testing.T) {
	for _, waves := range []bool{false, true} {
		name := map[bool]string{false: "full matrix", true: "compounded"}[waves]
		want := newWorld(200, waves).images()
		for _, test := range []struct {
			name   string
			change func(w *world)
			within float64 // times are rounded elsewhere, and the phase of a weight with them
		}{
			{"translation", func(w *world) { w.move(0.0625) }, 5e-4},
			{"scaling by 2, which rounds nothing", func(w *world) { w.enlarge(2) }, 1e-6},
			{"scaling by 0.3", func(w *world) { w.enlarge(0.3) }, 5e-4},
		} {
			t.Run(name+", "+test.name, func(t *testing.T) {
				w := newWorld(200, waves)
				test.change(w)
				for v, got := range w.images() {
					wantImage(t, narrow(got), want[v], test.within)
				}
			})
		}
		t.Run(name+", superposition", func(t *testing.T) {
			other, sum := newWorld(201, waves), newWorld(200, waves)
			for i, v := range other.capture.Data {
				sum.capture.Data[i] = 2*sum.capture.Data[i] - v
			}
			second := other.images()
			for v, got := range sum.images() {
				for p := range want[v] {
					want[v][p] = 2*want[v][p] - second[v][p]
				}
				wantImage(t, narrow(got), want[v], 1e-5)
			}
		})
	}
}

// TestReciprocity checks that exchanged transmitters and receivers show in the reciprocal view what
// the capture shows in the view, for views in one pass.
func TestReciprocity(t *testing.T) {
	w, exchanged := newWorld(202, false), newWorld(202, false)
	for i, pair := range exchanged.capture.Pairs {
		exchanged.capture.Pairs[i] = pair.Reciprocal()
	}
	want, got := w.images(), exchanged.images()
	for v, reciprocal := range []int{0, 2, 1} { // of L-L, L-T, T-L
		wantImage(t, narrow(got[reciprocal]), want[v], 1e-5)
	}
}

func narrow(image []complex128) []complex64 {
	data := make([]complex64, len(image))
	for i, v := range image {
		data[i] = complex64(v)
	}
	return data
}
