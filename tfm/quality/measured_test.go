// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// compare compares a measured spot with the predicted spot: lengths and widths within a share, and
// the tilt within 6° if the contour is not nearly round.
func compare(t *testing.T, name string, got, want sizing.Indication, share float64) {
	t.Helper()
	check.Within(t, name+": measured length over predicted", got.Length/want.Length, 1, share)
	check.Within(t, name+": measured width over predicted", got.Width/want.Width, 1, share)
	if want.Length > 1.3*want.Width {
		check.Within(t, name+": tilt, °", math.Remainder(got.Tilt-want.Tilt, math.Pi)*180/math.Pi, 0, 6)
	}
}

// measure returns the strongest indication of a capture near a point, on a fine grid.
func measure(t *testing.T, c *fmc.Capture, setup *wedge.Setup, view string, at r3.Vec, half, step float64) sizing.Indication {
	t.Helper()
	g := check.Must(tfm.NewSection(at.X-half, at.X+half, at.Z-half, at.Z+half, step))
	plan := check.Must(tfm.PlanView(t.Context(), c, setup, view, g, nil))
	image := check.Must(plan.Image(context.Background(), c))
	return check.Must(sizing.Find(image.Envelope(nil), &sizing.Options{Floor: -20}))[0]
}

// scene is a set-up with places of points.
type scene struct {
	name, view string
	setup      *wedge.Setup
	array      fmc.Array
	pairs      []fmc.Pair
	x, z       [2]float64  // range of the points, m
	events     []fmc.Event // nil for single elements
}

// scenes returns the set-ups of the trials, which are invented.
func scenes() []scene {
	acrylic := material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
	water := material.Isotropic{Density: 998, Longitudinal: 1483}
	like := fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6}
	flat := check.Must(fmc.LinearArray(24, 0.6e-3, like))
	plate := check.Must(wedge.NewPlate(nil, steel, 25e-3))
	onWedge := check.Must(wedge.NewPlate(&acrylic, steel, 25e-3))
	inWater := check.Must(wedge.NewPlate(&water, steel, 25e-3))
	tilted := check.Must(flat.Place(r3.NewRotation(36*math.Pi/180, r3.Vec{Y: 1}), r3.Vec{X: -12e-3, Z: -16e-3}))
	over := check.Must(flat.Place(r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Z: -12e-3}))
	var directions []r3.Vec
	for degrees := -25.0; degrees <= 25; degrees += 2.5 {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		directions = append(directions, r3.Vec{X: sin, Z: cos})
	}
	planeWaves := check.Must(transmit.PlaneWaves(flat, steel.Longitudinal, directions))
	return []scene{
		{"contact", "L-L", plate, flat, nil, [2]float64{-8e-3, 8e-3}, [2]float64{8e-3, 22e-3}, nil},
		{"contact, half matrix", "L-L", plate, flat, fmc.HalfPairs(24), [2]float64{-8e-3, 8e-3}, [2]float64{8e-3, 22e-3}, nil},
		{"wedge", "T-T", onWedge, tilted, nil, [2]float64{6e-3, 24e-3}, [2]float64{6e-3, 22e-3}, nil},
		{"wedge, half skip", "TT-T", onWedge, tilted, nil, [2]float64{14e-3, 26e-3}, [2]float64{14e-3, 20e-3}, nil},
		{"water", "L-L", inWater, over, nil, [2]float64{-6e-3, 6e-3}, [2]float64{6e-3, 20e-3}, nil},
		{"water, 6 transmitters", "L-L", inWater, over, fmc.SparsePairs([]int{0, 4, 9, 14, 19, 23}, 24), [2]float64{-6e-3, 6e-3}, [2]float64{6e-3, 20e-3}, nil},
		{"contact, plane waves", "L-L", plate, flat, nil, [2]float64{-2e-3, 2e-3}, [2]float64{10e-3, 20e-3}, planeWaves},
	}
}

// trial compares n points of each scene.
func trial(t *testing.T, n int, seed uint64) {
	for i, s := range scenes() {
		rng := rand.New(rand.NewPCG(seed, uint64(i)))
		for range n {
			at := r3.Vec{X: s.x[0] + rng.Float64()*(s.x[1]-s.x[0]), Z: s.z[0] + rng.Float64()*(s.z[1]-s.z[0])}
			name := fmt.Sprintf("%s (%.1f, %.1f) mm", s.name, at.X*1e3, at.Z*1e3)
			c, err := synth.Synthesise(t.Context(), &synth.Scene{
				Setup: *s.setup, Array: s.array, Dimension: wedge.Section,
				Reflectors: []synth.Reflector{synth.Point{Position: at, Strength: 1e-3}},
				Views:      []wedge.View{check.Must(wedge.ParseView(s.view))},
			}, synth.Recording{Pairs: s.pairs, Samples: 2600, SampleRate: 40e6})
			if err != nil {
				t.Fatal(err)
			}
			if s.events != nil {
				c = check.Must(transmit.Encode(t.Context(), c, s.events, nil))
			}
			spread := check.Must(quality.NewSpread(c, s.setup, s.view, &quality.Options{Dimension: wedge.Section}))
			want := check.Must(check.Must(spread.At(at)).Measure(sizing.SixDB))
			half := 1.2*want.Length + 0.3e-3
			got := measure(t, c, s.setup, s.view, at, half, want.Width/10)

			compare(t, name, got, want, 0.05)
			// The phases of the amplitudes move the peak beside the reflector. The waves from the ends
			// of the aperture, which a plane wave also has, move it by up to 0.07 lengths more. The
			// prediction leaves them out.
			limit := 0.04
			if s.events != nil {
				limit = 0.1
			}
			check.Within(t, name+": x of the peak in lengths", (got.X-want.X)/want.Length, 0, limit)
			check.Within(t, name+": z of the peak in lengths", (got.Z-want.Z)/want.Length, 0, limit)
		}
	}
}

// TestPredictedPoints compares with pictures of points in captures of the ray model: the pictures
// use all times, not only their derivatives at the point.
func TestPredictedPoints(t *testing.T) {
	trial(t, 1, 1)
}

// TestPredictedHoles compares with holes in the full-wave captures of testdata. The echo of a hole
// comes from another point of its face for each pair, so the spot differs from a point. Holes in
// the shadow of other holes are left out: their spots are up to twice as long.
func TestPredictedHoles(t *testing.T) {
	for _, test := range []struct {
		name, view string
		holes      []int
	}{{"block16", "L-L", []int{0, 1, 2}}, {"sdh32", "T-T", []int{0}}, {"pipe32", "L-L", []int{0, 1, 2}}, {"wavy32", "L-L", []int{0, 1, 2}}} {
		if testing.Short() && test.name != "pipe32" {
			continue
		}
		record, err := npy.ReadFile(filepath.Join("..", "..", "testdata", test.name+".json"), nil)
		if err != nil {
			t.Fatal(err)
		}
		setup := check.Must(record.Geometry())
		spread := check.Must(quality.NewSpread(record.Capture, setup, test.view, &quality.Options{Dimension: wedge.Section}))
		for _, i := range test.holes {
			hole := record.Truth.Holes[i]
			got := measure(t, record.Capture, setup, test.view, r3.Vec{X: hole.X, Z: hole.Z}, 3e-3, 0.1e-3)
			want := check.Must(check.Must(spread.At(r3.Vec{X: got.X, Z: got.Z})).Measure(sizing.SixDB))
			compare(t, fmt.Sprintf("%s, hole %d", test.name, i), got, want, 0.05)
		}
	}
}
