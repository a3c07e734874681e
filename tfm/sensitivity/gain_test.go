// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"context"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// made returns a map with the given amplitudes on a grid of steps of 1 mm.
func made(columns int, amplitudes ...float32) *Map {
	m := &Map{}
	m.Grid = tfm.Grid{Step: r3.Vec{X: 1e-3, Y: 1e-3, Z: 1e-3}, Cols: columns, Rows: len(amplitudes) / columns, Slices: 1}
	m.Data = amplitudes
	return m
}

// TestGain checks the factors, the limit and the states by hand.
func TestGain(t *testing.T) {
	m := made(4, 20, 10, 2, 0)
	m.States = []tfm.State{3: tfm.Blank}
	g, err := m.Gain(10, 6)
	if err != nil {
		t.Fatal(err)
	}
	const limit = 1.99526231 // 6 dB
	im := tfm.NewImage(m.Grid)
	im.States = []tfm.State{0, tfm.Clipped, tfm.Clipped, tfm.Blank}
	for i := range im.Data {
		im.Data[i] = complex(3, 4)
	}
	if err := g.Correct(im); err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct {
		factor float64
		state  tfm.State
	}{{0.5, 0}, {1, tfm.Clipped}, {limit, tfm.Clipped | tfm.GainLimited}, {limit, tfm.Blank | tfm.GainLimited}} {
		if got := float64(g.factors[i]); !(math.Abs(got-want.factor) <= 1e-6) {
			t.Errorf("pixel %d: factor %v, want %v", i, got, want.factor)
		}
		v := im.Data[i]
		if !(math.Abs(float64(real(v))-3*want.factor) <= 1e-5 && math.Abs(float64(imag(v))-4*want.factor) <= 1e-5) {
			t.Errorf("pixel %d: corrected %v, want %v times 3+4i", i, v, want.factor)
		}
		if im.States[i] != want.state {
			t.Errorf("pixel %d: state %v, want %v", i, im.States[i], want.state)
		}
	}
}

// TestGainErrors checks that errors name what is wrong.
func TestGainErrors(t *testing.T) {
	m := made(2, 1, 2)
	for _, test := range []struct {
		reference, limit float64
		want             string
	}{
		{0, 20, "reference amplitude 0"},
		{math.Inf(1), 20, "reference amplitude +Inf"},
		{1, -1, "limit of the gain -1 dB"},
		{1, 201, "limit of the gain 201 dB: want 0 to 200"},
		{1, math.NaN(), "limit of the gain NaN dB"},
	} {
		if _, err := m.Gain(test.reference, test.limit); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("Gain(%v, %v): error %v, want one with %q", test.reference, test.limit, err, test.want)
		}
	}
	g := check.Must(m.Gain(1, 20))
	for _, im := range []*tfm.Image{nil, tfm.NewImage(made(1, 1, 2).Grid), {Grid: m.Grid}} {
		if err := g.Correct(im); err == nil {
			t.Errorf("no error for the image %v", im)
		}
	}
}

// TestLimitedIndication checks that an indication where the gain is limited carries the state, and
// is shown too low.
func TestLimitedIndication(t *testing.T) {
	b := newBench(true)
	p := r3.Vec{X: 12e-3, Z: 10e-3}
	g := check.Must(tfm.NewSection(8e-3, 16e-3, 6e-3, 14e-3, 0.2e-3))
	c := b.capture(t, "T-T", synth.Hole{X: p.X, Z: p.Z, Diameter: 1.5e-3})
	m := b.newMap(t, c, "T-T", g, Hole{1.5e-3}, b.options())
	plan := check.Must(tfm.PlanView(context.Background(), c, b.setup, "T-T", g, nil))
	here := m.Data[pixelAt(g, p)]
	for _, test := range []struct {
		limit   float64
		level   float64 // of the hole relative to the reference, dB
		limited tfm.State
	}{{12, 0, 0}, {4, -6, tfm.GainLimited}} {
		im := check.Must(plan.Image(context.Background(), c))
		reference := 3.16227766 * float64(here) // the hole needs a gain of 10 dB
		if err := check.Must(m.Gain(reference, test.limit)).Correct(im); err != nil {
			t.Fatal(err)
		}
		found := check.Must(sizing.Find(im.Envelope(nil), &sizing.Options{Floor: -3}))
		if len(found) != 1 {
			t.Fatalf("%d indications, want the hole", len(found))
		}
		if got := found[0].States & tfm.GainLimited; got != test.limited {
			t.Errorf("limit %v dB: state %v, want %v", test.limit, got, test.limited)
		}
		peak, _ := im.Envelope(nil).Peak()
		if off := decibels(float64(peak)/reference) - test.level; !(math.Abs(off) <= 1) {
			t.Errorf("limit %v dB: level %.2f dB from the expected %v dB", test.limit, off, test.level)
		}
	}
}

// TestCoverage checks areas by hand. Pixels are squares of 1 mm around their centres.
func TestCoverage(t *testing.T) {
	square := func(x0, x1, z0, z1 float64) wedge.Outline {
		return wedge.Outline{{X: x0, Y: z0}, {X: x1, Y: z0}, {X: x1, Y: z1}, {X: x0, Y: z1}, {X: x0, Y: z0}}
	}
	one := made(4,
		10, 10, 1, 1,
		10, 10, 1, 1,
		10, 5, 1, 1)
	other := made(4,
		1, 1, 1, 1,
		1, 1, 1, 10,
		1, 1, 1, 10)
	all := square(-0.5e-3, 3.5e-3, -0.5e-3, 2.5e-3)
	for _, test := range []struct {
		name  string
		area  []wedge.Outline
		level float64
		maps  []*Map
		want  float64
	}{
		{"the whole grid", []wedge.Outline{all}, -3, []*Map{one}, 5. / 12},
		{"a lower level", []wedge.Outline{all}, -6.1, []*Map{one}, 6. / 12},
		{"everything", []wedge.Outline{all}, -20, []*Map{one}, 1},
		{"nothing", []wedge.Outline{all}, 1, []*Map{one}, 0},
		{"the best of two maps", []wedge.Outline{all}, -3, []*Map{one, other}, 7. / 12},
		{"parts of pixels", []wedge.Outline{square(1e-3, 2e-3, -0.5e-3, 1.5e-3)}, -3, []*Map{one}, 0.5},
		{"small parts of pixels", []wedge.Outline{square(0.7e-3, 1.7e-3, -0.5e-3, 1.5e-3)}, -20, []*Map{one}, 1},
		{"half beyond the grid", []wedge.Outline{square(-4.5e-3, 1.5e-3, -0.5e-3, 1.5e-3)}, -3, []*Map{one}, 2. / 6},
		{"above the grid", []wedge.Outline{square(-0.5e-3, 1.5e-3, -2.5e-3, 1.5e-3)}, -3, []*Map{one}, 0.5},
		{"two areas", []wedge.Outline{square(-0.5e-3, 0.5e-3, -0.5e-3, 2.5e-3), square(1.5e-3, 2.5e-3, -0.5e-3, 2.5e-3)}, -3, []*Map{one}, 0.5},
		{"an area with an opening", []wedge.Outline{all, square(-0.5e-3, 1.5e-3, -0.5e-3, 2.5e-3)}, -3, []*Map{one, other}, 2. / 6},
		{"a triangle", []wedge.Outline{{{X: -0.5e-3, Y: -0.5e-3}, {X: 3.5e-3, Y: -0.5e-3}, {X: -0.5e-3, Y: 2.5e-3}, {X: -0.5e-3, Y: -0.5e-3}}}, -3, []*Map{one},
			(2 + 2 + 2./3) / (10./3 + 2 + 2./3)}, // widths at the centres of the three rows
	} {
		got, err := Coverage(test.area, 10, test.level, test.maps...)
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
		} else if !(math.Abs(got-test.want) <= 1e-9) {
			t.Errorf("%s: share %v, want %v", test.name, got, test.want)
		}
	}
}

// TestCoverageErrors checks that errors name what is wrong.
func TestCoverageErrors(t *testing.T) {
	nan, m := math.NaN(), made(1, 1, 1)
	triangle := wedge.Outline{{}, {X: 1e-3}, {Y: 1e-3}, {}}
	for _, test := range []struct {
		name             string
		area             []wedge.Outline
		reference, level float64
		maps             []*Map
		want             string
	}{
		{"no map", []wedge.Outline{triangle}, 1, 0, nil, "without a map"},
		{"nil", []wedge.Outline{triangle}, 1, 0, []*Map{nil}, "without a map"},
		{"empty", []wedge.Outline{triangle}, 1, 0, []*Map{m, {}}, "map 1 of 0 values"},
		{"other grids", []wedge.Outline{triangle}, 1, 0, []*Map{m, made(2, 1, 1)}, "different grids"},
		{"reference", []wedge.Outline{triangle}, -1, 0, []*Map{m}, "reference amplitude -1"},
		{"level", []wedge.Outline{triangle}, 1, nan, []*Map{m}, "level NaN dB"},
		{"no outline", nil, 1, 0, []*Map{m}, "no outline"},
		{"open", []wedge.Outline{triangle[:3]}, 1, 0, []*Map{m}, "outline 0 of 3 points"},
		{"open with four points", []wedge.Outline{{{}, {X: 1e-3}, {X: 1e-3, Y: 1e-3}, {Y: 1e-3}}}, 1, 0, []*Map{m}, "outline 0 of 4 points"},
		{"not finite", []wedge.Outline{{{}, {X: nan}, {Y: 1}, {}}}, 1, 0, []*Map{m}, "through (NaN, 0) m"},
		{"far away", []wedge.Outline{{{}, {X: 1}, {Y: 1e9}, {}}}, 1, 0, []*Map{m}, "area from z = 0 to 1e+09 m"},
		{"thin", []wedge.Outline{{{Y: 0.4e-3}, {X: 1, Y: 0.4e-3}, {X: 1, Y: 0.6e-3}, {Y: 0.4e-3}}}, 1, 0, []*Map{m}, "thinner"},
	} {
		if _, err := Coverage(test.area, test.reference, test.level, test.maps...); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: error %v, want one with %q", test.name, err, test.want)
		}
	}
}

// TestCrossing checks that a line that runs down or up is crossed at the same place.
func TestCrossing(t *testing.T) {
	a, b := r2.Vec{X: 1, Y: 2}, r2.Vec{X: 5, Y: 4}
	if down, up := crossing(a, b, 2.5), crossing(b, a, 2.5); down != 2 || up != 2 {
		t.Errorf("crossing at %v and %v: want 2", down, up)
	}
}
