// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// capture returns a capture of holes in a plate of 20 mm, with the L-L and L-T echoes of the walls.
func capture(t testing.TB, s *wedge.Setup, a fmc.Array, holes ...synth.Reflector) *fmc.Capture {
	t.Helper()
	scene := synth.Scene{
		Setup: *s, Array: a, Dimension: wedge.Section, Reflectors: holes,
		Walls: [][]material.Mode{{material.L, material.L}, {material.L, material.T}, {material.L, material.L, material.L, material.L}},
	}
	if len(holes) > 0 {
		scene.Views = []wedge.View{view(t, "L-L"), view(t, "T-L"), view(t, "T-T")}
	}
	c, err := synth.Synthesise(ctx, &scene, synth.Recording{Samples: 900, SampleRate: 50e6})
	noError(t, err)
	return c
}

// A hole near the back wall is no ghost, though the echo of the wall is strong. The ligament
// between hole and wall is at least 1.3 lengths of a pulse: else the image shows one indication of
// both.
func TestHoleNearWall(t *testing.T) {
	s, a := plate(t, nil, 20e-3), row(16, 0.8e-3, 0)
	e := echoes(t, s, a)
	for _, ligament := range []float64{1.2e-3, 1.5e-3, 2e-3, 3e-3, 5e-3, 10e-3} {
		for _, x := range []float64{0, 3e-3} {
			const radius = 0.5e-3
			c := capture(t, s, a, synth.Hole{X: x, Z: 20e-3 - ligament - radius, Diameter: 2 * radius})
			top := r3.Vec{X: x, Z: 20e-3 - ligament - 2*radius}
			found, err := e.Explain(ctx, c, view(t, "L-L"), []r3.Vec{top}, tfm.Band{})
			noError(t, err)
			if found[0].Echo != "" {
				t.Errorf("hole %v m above the wall at x = %v m: taken for %+v", ligament, x, found[0])
			}
		}
	}
}

// The echoes of the wall explain the indications at the places that Predict returns. A known hole
// is recognised in its own view, and its T-T echo explains a place in another view.
func TestExplain(t *testing.T) {
	s, a := plate(t, nil, 20e-3), row(16, 0.8e-3, 0)
	e := echoes(t, s, a, hole)
	c := capture(t, s, a, synth.Hole{X: 1e-3, Z: 9e-3, Diameter: 2 * hole.Radius})
	half, err := c.Half()
	noError(t, err)
	for _, test := range []struct {
		view, echo, reflector string
		at                    r3.Vec
	}{
		{"L-L", "L-L echo of the back wall", "", r3.Vec{Z: 20e-3}},
		{"L-L", "L-T echo of the back wall", "", predict(t, e, "L-T echo of the back wall", "L-L", section(t, -4e-3, 4e-3, 22e-3, 34e-3, 0.3e-3)).At},
		{"L-L", "L-L-L-L echo of the back wall", "", r3.Vec{Z: 40e-3}},
		{"L-L", "", "the hole", r3.Vec{X: 1e-3, Z: 8.25e-3}},
		{"T-L", "", "the hole", r3.Vec{X: 1e-3, Z: 8.25e-3}},
		{"L-L", "T-T echo of the hole", "", predict(t, e, "T-T echo of the hole", "L-L", section(t, -4e-3, 6e-3, 12e-3, 18e-3, 0.3e-3)).At},
		{"L-L", "", "", r3.Vec{X: -4e-3, Z: 5e-3}},
	} {
		for _, c := range []*fmc.Capture{c, half} {
			found, err := e.Explain(ctx, c, view(t, test.view), []r3.Vec{test.at}, tfm.Band{})
			noError(t, err)
			x := found[0]
			if x.Echo != test.echo || x.Reflector != test.reflector {
				t.Errorf("view %s at %v, %d pairs: echo %q and reflector %q, want %q and %q: %+v",
					test.view, test.at, len(c.Pairs), x.Echo, x.Reflector, test.echo, test.reflector, x)
			}
		}
	}
}

// A muted echo takes the whole indication that it makes, and Agreement is 1 by its formula.
func TestNumbers(t *testing.T) {
	s, a := plate(t, nil, 20e-3), row(16, 0.8e-3, 0)
	e := echoes(t, s, a)
	c := capture(t, s, a)
	at := predict(t, e, "L-T echo of the back wall", "L-L", section(t, -4e-3, 4e-3, 22e-3, 34e-3, 0.3e-3)).At
	found, err := e.Explain(ctx, c, view(t, "L-L"), []r3.Vec{at}, tfm.Band{})
	noError(t, err)
	x := found[0]
	if !(math.Abs(x.Share-1) <= 0.1) {
		t.Errorf("share %v, want 1: nothing else is in the capture", x.Share)
	}
	if want := 1 - math.Abs(1-x.Share)/(1-x.Coverage); !(math.Abs(x.Agreement-want) <= 1e-12) {
		t.Errorf("agreement %v, want %v", x.Agreement, want)
	}
	if !(x.Coverage > 0.1 && x.Coverage < 0.95) || !(x.Strength > 1) || !(x.Focus < 1) {
		t.Errorf("explanation %+v: want a part of the traces, and an echo stronger than its ghost", x)
	}
}

// An echo explains an indication by the rules of the package documentation.
func TestRules(t *testing.T) {
	for _, test := range []struct {
		name string
		x    Explanation
		want bool
	}{
		{"a ghost", Explanation{Share: 1, Coverage: 0.2, Agreement: 1, Focus: 0.1, Strength: 5, Level: 0.8}, true},
		{"at the limits", Explanation{Share: 0.6, Coverage: 0.2, Agreement: 0.5, Strength: 0.5, Level: 0.25}, true},
		{"a reflector", Explanation{Share: 0.5, Coverage: 0.48, Agreement: 0.04, Focus: 0.1, Strength: 2, Level: 0.5}, false},
		{"agreement too low", Explanation{Share: 0.59, Coverage: 0.2, Agreement: 0.49, Strength: 5, Level: 0.5}, false},
		{"echo too weak", Explanation{Share: 1, Coverage: 0.2, Agreement: 1, Strength: 0.49, Level: 0.3}, false},
		{"level too low", Explanation{Share: 1, Coverage: 0.2, Agreement: 1, Focus: 1, Strength: 5, Level: 0.24}, false},
		{"mute takes all", Explanation{Share: 1, Coverage: 0.96, Agreement: 1, Focus: 0.1, Strength: 5, Level: 0.5}, false},
		{"mute takes all, but the echo focuses", Explanation{Share: 1, Coverage: 1, Focus: 0.3, Strength: 0.7, Level: 0.5}, true},
		{"focuses, but is weak", Explanation{Share: 1, Coverage: 1, Focus: 0.9, Strength: 0.69, Level: 0.6}, false},
		{"focuses, but takes little", Explanation{Share: 0.49, Coverage: 0.4, Agreement: 0.15, Focus: 0.9, Strength: 2, Level: 2}, false},
		{"not a number", Explanation{Share: math.NaN(), Agreement: math.NaN(), Strength: 5, Level: math.NaN()}, false},
	} {
		if got := test.x.explains(); got != test.want {
			t.Errorf("%s: explains %v, want %v", test.name, got, test.want)
		}
	}
}

// TestWith checks that reflectors may come with the set-up or later.
func TestWith(t *testing.T) {
	setup := plate(t, &water, 20e-3)
	array := row(5, 1e-3, -15e-3)
	hole := Reflector{Name: "hole", Outline: wedge.Outline{{X: 1e-3, Y: 9e-3}}, Radius: 0.5e-3}
	crack := Reflector{Name: "crack", Outline: wedge.Outline{{X: -2e-3, Y: 12e-3}, {X: -2e-3, Y: 15e-3}}}
	first := echoes(t, setup, array, hole)
	got, err := first.With(ctx, []Reflector{crack})
	noError(t, err)
	exported := cmp.Exporter(func(reflect.Type) bool { return true })
	if d := cmp.Diff(echoes(t, setup, array, hole, crack), got, exported, cmpopts.EquateNaNs()); d != "" {
		t.Error(d)
	}
	if len(first.Names()) >= len(got.Names()) {
		t.Errorf("%d echoes with one reflector, %d with two: want more", len(first.Names()), len(got.Names()))
	}
	if _, err := first.With(ctx, []Reflector{{Outline: crack.Outline}}); err == nil || !strings.Contains(err.Error(), "without a name") {
		t.Errorf("error %v of a reflector without a name", err)
	}
}

// The explanations have the same bits for any number of workers.
func TestWorkers(t *testing.T) {
	s, a := plate(t, nil, 20e-3), row(16, 0.8e-3, 0)
	c := capture(t, s, a)
	places := []r3.Vec{{Z: 20e-3}, {X: 1e-3, Z: 28e-3}, {X: -3e-3, Z: 12e-3}}
	var first []Explanation
	for _, workers := range []int{1, 3} {
		e, err := New(ctx, s, a, &Options{Workers: workers})
		noError(t, err)
		found, err := e.Explain(ctx, c, view(t, "L-L"), places, tfm.Band{})
		noError(t, err)
		if first == nil {
			first = found
		}
		for i := range found {
			if found[i] != first[i] {
				t.Errorf("place %d: %+v with %d workers, %+v with 1", i, found[i], workers, first[i])
			}
		}
	}
}

// Bad input gives an error that names the field and the allowed range.
func TestErrors(t *testing.T) {
	s, a := plate(t, nil, 20e-3), row(4, 0.8e-3, 0)
	e := echoes(t, s, a)
	c := capture(t, s, a)
	skew := row(4, 0.8e-3, 0)
	skew.Elements[2].Y = 1e-3
	events := *c
	events.Events = make([]fmc.Event, 4)
	for i := range events.Events {
		events.Events[i] = fmc.Event{Delays: make([]float64, 4), Weights: []float64{1, 1, 1, float64(i)}}
	}
	g := section(t, 0, 1e-3, 5e-3, 6e-3, 0.5e-3)
	volume := g
	volume.Slices = 2
	newWith := func(s *wedge.Setup, a fmc.Array, r ...Reflector) error {
		_, err := New(ctx, s, a, &Options{Reflectors: r})
		return err
	}
	predict := func(g tfm.Grid, o *PredictOptions) error {
		_, err := e.Predict(ctx, view(t, "L-L"), g, o)
		return err
	}
	explain := func(c *fmc.Capture) error {
		_, err := e.Explain(ctx, c, view(t, "L-L"), []r3.Vec{{Z: 5e-3}}, tfm.Band{})
		return err
	}
	nan := math.NaN()
	wallAt := func(s *wedge.Setup, a fmc.Array, v wedge.View, peak, contour r3.Vec, slack float64) error {
		_, err := WallAt(ctx, s, a, v, peak, []r3.Vec{contour}, slack)
		return err
	}
	direct := view(t, "L-L")
	_, workers := New(ctx, s, a, &Options{Workers: -1})
	for _, test := range []struct {
		err  error
		want string
	}{
		{newWith(nil, a), "no set-up"},
		{newWith(s, fmc.Array{}), "0 elements"},
		{newWith(s, skew), "element 2 at y = 0.001 m"},
		{newWith(s, a, Reflector{Outline: hole.Outline}), "reflector 0 without a name"},
		{newWith(s, a, Reflector{Name: "x"}), `"x" without an outline`},
		{newWith(s, a, Reflector{Name: "x", Outline: hole.Outline, Radius: math.NaN()}), "radius NaN m"},
		{newWith(s, a, Reflector{Name: "x", Outline: wedge.Outline{{X: math.Inf(1)}}}), "finite coordinates"},
		{workers, "workers -1"},
		{predict(volume, nil), "2 slices: want one"},
		{predict(g, &PredictOptions{Drop: -1}), "drop -1 dB"},
		{predict(g, &PredictOptions{Names: []string{"no such echo"}}), `"no such echo": want one of Names`},
		{wallAt(nil, a, direct, r3.Vec{}, r3.Vec{}, 0), "no set-up"},
		{wallAt(s, fmc.Array{}, direct, r3.Vec{}, r3.Vec{}, 0), "0 elements"},
		{wallAt(s, a, wedge.View{}, r3.Vec{}, r3.Vec{}, 0), "at least one mode"},
		{wallAt(s, a, direct, r3.Vec{X: nan}, r3.Vec{}, 0), "peak at {NaN 0 0} m"},
		{wallAt(s, a, direct, r3.Vec{}, r3.Vec{Z: nan}, 0), "point 0 of the contour at {0 0 NaN} m"},
		{wallAt(s, a, direct, r3.Vec{}, r3.Vec{}, -1), "slack -1 m"},
		{explain(&events), "4 events"},
		{explain(capture(t, s, row(5, 0.8e-3, 0))), "another array of 5 elements"},
	} {
		if test.err == nil || !strings.Contains(test.err.Error(), test.want) {
			t.Errorf("error %v, want one with %q", test.err, test.want)
		}
	}
}

// Of two echoes that explain an indication, the agreements decide, then the strengths. The level
// decides if one of both takes nearly all traces.
func TestBetter(t *testing.T) {
	for _, test := range []struct {
		name        string
		best, other Explanation
	}{
		{"agreement", Explanation{Agreement: 0.9, Strength: 1}, Explanation{Agreement: 0.7, Strength: 2}},
		{"strength", Explanation{Agreement: 0.82, Strength: 2}, Explanation{Agreement: 0.9, Strength: 1}},
		{"level", Explanation{Coverage: 0.97, Agreement: 0.6, Strength: 2, Level: 0.6},
			Explanation{Coverage: 0.9, Agreement: 0.8, Strength: 1, Level: 0.3}},
	} {
		test.best.Echo, test.other.Echo = "best", "other"
		if !test.best.better(&test.other) || test.other.better(&test.best) {
			t.Errorf("%s: %+v is not better than %+v", test.name, test.best, test.other)
		}
	}
}
