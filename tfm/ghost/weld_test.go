// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// Lines of arcs in these tests lie within 1 µm, which delays an echo by less than 1 ns.
const fine = 1e-6

// weld returns a butt joint of 20 mm with a root bead, and its set-up. The sizes are of common
// practice, no source.
func weld(t testing.TB, top joint.Bead) (known []Reflector, s *wedge.Setup) {
	t.Helper()
	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * math.Pi / 180}}
	j, err := joint.Butt{
		Thickness: 20e-3, Gap: 3e-3, RootFace: 2e-3, Left: edge, Right: edge,
		Cap: top, Root: joint.Bead{Height: 1e-3, Width: 6e-3},
	}.Joint()
	noError(t, err)
	s, err = j.Setup(j.Plate, steel, fine)
	noError(t, err)
	known, err = Weld(j, fine)
	noError(t, err)
	return known, s
}

var (
	high  = joint.Bead{Height: 2e-3, Width: 28e-3}
	flush joint.Bead // the array can stand over the weld
)

// moved returns an array of n elements a pitch apart, whose first element lies at x.
func moved(n int, pitch, x float64) fmc.Array {
	a := row(n, pitch, 0)
	shift := x - a.Elements[0].X
	for i := range a.Elements {
		a.Elements[i].X += shift
	}
	return a
}

// The echoes of an arc have closed forms. From an element and back, a ray through the centre of
// curvature meets the inside of the arc at a right angle: its length is the distance from the
// centre plus the radius. A skip at the back wall mirrors the element there. A toe is a point.
// From beside the weld the cap is no mirror: no ray through its centre of curvature meets it.
func TestWeldTimes(t *testing.T) {
	const rootRadius = 5e-3 // (w²/4 + h²)/(2h)
	root, toe := r2.Vec{Y: 21e-3 - rootRadius}, r2.Vec{X: 3e-3, Y: 20e-3}
	for _, test := range []struct {
		top   joint.Bead
		echo  string
		x     float64 // of the element
		z     float64 // of the element, or of its mirror image
		at    r2.Vec
		more  float64 // one way, m
		speed float64
	}{
		{flush, "L-L echo of the hollow of the root", -1e-3, 0, root, rootRadius, steel.Longitudinal},
		{flush, "T-T echo of the hollow of the root", -2e-3, 0, root, rootRadius, steel.Transverse},
		{high, "T-T echo of the last end of the root", -30e-3, 0, toe, 0, steel.Transverse},
		{high, "TT-TT echo of the first end of the cap", -40e-3, 40e-3, r2.Vec{X: -14e-3}, 0, steel.Transverse},
	} {
		known, s := weld(t, test.top)
		e := echoes(t, s, moved(1, 0.6e-3, test.x), known...)
		echo, err := e.find(test.echo)
		noError(t, err)
		way := r2.Norm(r2.Sub(r2.Vec{X: test.x, Y: test.z}, test.at)) + test.more
		if want := 2 * way / test.speed; !(math.Abs(float64(echo.tables[0][0])-want) <= 2e-9) {
			t.Errorf("%s from x = %v m: %v s, want %v s", test.echo, test.x, echo.tables[0][0], want)
		}
		if name := "TT-TT echo of the hollow of the cap"; slices.Contains(e.Names(), name) {
			t.Errorf("from x = %v m: %s, want none", test.x, name)
		}
	}
}

// A line with a sharp corner has no hollow, though the time is longest at the corner.
func TestCornerIsNoHollow(t *testing.T) {
	bent := Reflector{Name: "the bend", Outline: wedge.Outline{{X: -3e-3, Y: 9e-3}, {Y: 12e-3}, {X: 3e-3, Y: 9e-3}}}
	for _, name := range echoes(t, plate(t, nil, 20e-3), moved(1, 0.6e-3, 0), bent).Names() {
		if strings.Contains(name, "hollow") {
			t.Errorf("%s, want none", name)
		}
	}
}

// A point at the toe of the root echoes in T-T through the plate. Its image is the image of the
// root. Its ghost in L-L is the T-T echo of the root. Without the root nothing explains the ghost.
func TestWeldExplains(t *testing.T) {
	known, s := weld(t, high)
	a := moved(16, 0.8e-3, -27e-3)
	toe := r3.Vec{X: 3e-3, Z: 20e-3}
	c, err := synth.Synthesise(ctx, &synth.Scene{
		Setup: *s, Array: a, Dimension: wedge.Section, Views: []wedge.View{view(t, "T-T")},
		Reflectors: []synth.Reflector{synth.Point{Position: toe, Strength: 1e-3}},
	}, synth.Recording{Samples: 1500, SampleRate: 50e6})
	noError(t, err)
	with, without := echoes(t, s, a, known...), echoes(t, s, a)
	ghost := predict(t, with, "T-T echo of the last end of the root", "L-L", section(t, -10e-3, 60e-3, 10e-3, 60e-3, 0.5e-3)).At
	for _, test := range []struct {
		name            string
		e               *Echoes
		view            string
		at              r3.Vec
		reflector, echo string // the echo ends in these words
	}{
		{"the toe", with, "T-T", toe, "the root", ""},
		{"its ghost", with, "L-L", ghost, "", "of the last end of the root"},
		{"the root unknown", without, "L-L", ghost, "", ""},
		{"the toe of a root unknown", without, "T-T", toe, "", ""},
	} {
		found, err := test.e.Explain(ctx, c, view(t, test.view), []r3.Vec{test.at}, tfm.Band{})
		noError(t, err)
		x := found[0]
		if x.Reflector != test.reflector || !strings.HasSuffix(x.Echo, test.echo) || (x.Echo == "") != (test.echo == "") {
			t.Errorf("%s: %+v, want reflector %q and an echo %q", test.name, x, test.reflector, test.echo)
		}
	}
}
