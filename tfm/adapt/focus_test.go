// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestPeak: the top of a Gaussian spot lies between pixels.
func TestPeak(t *testing.T) {
	const s, x, z = 2.0, 20.3, 19.8
	spot := make([]float32, 41*41)
	for i := range spot {
		dx, dz := float64(i%41)-x, float64(i/41)-z
		spot[i] = float32(math.Exp(-(dx*dx + dz*dz) / (2 * s * s)))
	}
	level, index, right, down := peak(spot, 41, 41)
	check.Within(t, "level", level, 0, 1e-5)
	check.Within(t, "column", float64(index%41)+right, x, 1e-5)
	check.Within(t, "row", float64(index/41)+down, z, 1e-5)
}

// TestFocus checks values and verdicts on invented blocks.
func TestFocus(t *testing.T) {
	hole, pair, far := steel, steel, steel
	hole.radius = 1e-3
	pair.holes = []r3.Vec{{X: -3e-3, Z: 12e-3}, {X: 4e-3, Z: 16e-3}, {X: 0, Z: 20e-3}}
	far.elements, far.holes = 8, []r3.Vec{{Z: 60e-3}}
	noise, faint := steel, steel
	noise.noise = 1e4
	faint.noise = 3
	for _, test := range []struct {
		name    string
		block   block
		options *FocusOptions
		want    Verdict
		bias    float64 // of the speed, as a share
	}{
		{"point", steel, nil, Determined, 0},
		{"three points", pair, nil, Determined, 0},
		{"hole of a known radius", hole, &FocusOptions{Radius: 1e-3}, Determined, 0},
		// For the radius R and the depth z, the path of a pair at x₁ and x₂ is, to second order,
		// 2(z - R) + (x₁² + x₂²)/2z + R(x₁ - x₂)²/4z². The mixed term is odd and has no effect. A
		// point at z - R and the speed c' has 2(z - R) + (x₁² + x₂²)·c'²/c²/2(z - R), so c' = c(1 +
		// R/4z).
		{"hole taken for a point", hole, nil, Determined, 1.0 / (4 * 15)},
		{"narrow aperture", far, nil, Flat, math.NaN()},
		{"noise alone", noise, nil, NoReflector, math.NaN()},
		{"echo below the noise, but the sum is above it", faint, nil, Determined, 0},
	} {
		test.block.seed = 4
		f := test.block.focus(t, test.options)
		if f.Verdict != test.want && !(test.want == NoReflector && f.Verdict == AtEnd) {
			t.Errorf("%s: %v, drop %v dB, want %v", test.name, f.Verdict, f.Drop, test.want)
		}
		if test.want == Determined {
			tolerance := max(0.003*5900, 3*f.Value.Uncertainty)
			check.Within(t, test.name+": speed, m/s", f.Value.Value, 5900*(1+test.bias), tolerance)
		}
	}
	c := steel.capture()
	trial := PartSpeed(steel.setup(), c.Array.Elements, material.L)
	low := check.Must(Focus(t.Context(), c, "L-L", steel.regions(), trial, wedge.Interval{Min: 6000, Max: 7000}, nil))
	if low.Verdict != AtEnd {
		t.Errorf("range above the speed: %v, want %v", low.Verdict, AtEnd)
	}
	cut := steel.regions()
	cut[0].Rows = 6
	cut[0].Origin.Z = 15e-3
	edge := check.Must(Focus(t.Context(), c, "L-L", cut, trial, wedge.Interval{Min: 5000, Max: 6800}, nil))
	if edge.Verdict == Determined {
		t.Errorf("region that cuts the spot: %v at %v, want another verdict", edge.Verdict, edge.Value)
	}
}

// TestFocusLayouts checks that the half matrix and any number of workers give the same value.
func TestFocusLayouts(t *testing.T) {
	if testing.Short() {
		t.Skip("captures")
	}
	b := steel
	b.noise, b.seed = 0.3, 9
	c := b.capture()
	half := check.Must(c.Half())
	trial := PartSpeed(b.setup(), c.Array.Elements, material.L)
	within := wedge.Interval{Min: 4800, Max: 7000}
	full := check.Must(Focus(t.Context(), c, "L-L", b.regions(), trial, within, &FocusOptions{Workers: 1}))
	again := check.Must(Focus(t.Context(), c, "L-L", b.regions(), trial, within, &FocusOptions{Workers: 3}))
	if full.Value != again.Value {
		t.Errorf("%v with one worker, %v with three", full.Value, again.Value)
	}
	halved := check.Must(Focus(t.Context(), half, "L-L", b.regions(), trial, within, nil))
	check.Within(t, "speed from the half matrix, m/s", halved.Value.Value, full.Value.Value, 0.1)
}

// TestTrials checks the geometry of the trials.
func TestTrials(t *testing.T) {
	elements := []r3.Vec{{X: -3e-3, Z: -5e-3}, {X: 0, Z: -9e-3}, {X: 3e-3, Z: -13e-3}} // tilted by atan(4/3)
	setup := steel.setup()
	_, turned, err := WedgeAngle(setup, elements, elements[1])(0)
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "x of an end at an angle of 0", turned[2].X, 5e-3, 1e-15)
	check.Within(t, "z of an end at an angle of 0", turned[2].Z, -9e-3, 1e-15)
	_, same, _ := WedgeAngle(setup, elements, elements[1])(math.Atan2(4, 3))
	check.Within(t, "z of an end at its own angle", same[0].Z, -5e-3, 1e-15)
	_, lifted, _ := Height(setup, elements)(10e-3)
	check.Within(t, "z of an end, 1 mm higher", lifted[2].Z, -14e-3, 1e-15)
	thin, _, err := Thickness(setup, elements)(7e-3)
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "depth of the wall", thin.Back.Depth(r3.Vec{Z: 7e-3}), 0, 1e-15)
	check.Error(t, third(Thickness(setup, elements)(-1)), "-1")
	fast, _, _ := PartSpeed(setup, elements, material.T)(3000)
	if fast.Part.Transverse != 3000 || fast.Part.Longitudinal != setup.Part.Longitudinal {
		t.Errorf("part %+v, want only the transverse speed changed", fast.Part)
	}
}

func third[A, B any](_ A, _ B, err error) error { return err }

// TestFocusInput checks that each bad argument is named.
func TestFocusInput(t *testing.T) {
	c := steel.capture()
	trial := PartSpeed(steel.setup(), c.Array.Elements, material.L)
	regions, within := steel.regions(), wedge.Interval{Min: 5000, Max: 7000}
	few := PartSpeed(steel.setup(), c.Array.Elements[:3], material.L)
	line := []tfm.Grid{check.Must(tfm.NewSection(0, 0, 1e-3, 2e-3, 1e-4))}
	noSetup := func(float64) (*wedge.Setup, []r3.Vec, error) { return nil, nil, nil }
	ctx := t.Context()
	for _, test := range []struct {
		name string
		err  error
		want string
	}{
		{"capture", second(Focus(ctx, nil, "L-L", regions, trial, within, nil)), "no capture"},
		{"view", second(Focus(ctx, c, "L", regions, trial, within, nil)), "L"},
		{"regions", second(Focus(ctx, c, "L-L", nil, trial, within, nil)), "without regions"},
		{"line", second(Focus(ctx, c, "L-L", line, trial, within, nil)), "region 0"},
		{"trial", second(Focus(ctx, c, "L-L", regions, nil, within, nil)), "without a trial"},
		{"elements", second(Focus(ctx, c, "L-L", regions, few, within, nil)), "3 elements"},
		{"set-up", second(Focus(ctx, c, "L-L", regions, PartSpeed(nil, c.Array.Elements, material.L), within, nil)), "without a set-up"},
		{"set-up of a trial", second(Focus(ctx, c, "L-L", regions, noSetup, within, nil)), "trial of 5000 without a set-up"},
		{"no elements", second(Focus(ctx, c, "L-L", regions, WedgeAngle(steel.setup(), nil, r3.Vec{}), within, nil)), "without elements"},
		{"mode", second(Focus(ctx, c, "L-L", regions, PartSpeed(steel.setup(), c.Array.Elements, 9), within, nil)), "want material.L or material.T"},
		{"workers", second(Focus(ctx, c, "L-L", regions, trial, within, &FocusOptions{Workers: -1})), "adapt: workers -1"},
		{"range", second(Focus(ctx, c, "L-L", regions, trial, wedge.Interval{Min: 2, Max: 1}, nil)), "range from 2"},
		{"radius", second(Focus(ctx, c, "L-L", regions, trial, within, &FocusOptions{Radius: -1})), "radius"},
		{"common", second(Focus(ctx, c, "L-L", regions, trial, within, &FocusOptions{Common: -1})), "common uncertainty -1"},
		{"steps", second(Focus(ctx, c, "L-L", regions, trial, within, &FocusOptions{Steps: 2})), "2 steps"},
		{"drop", second(Focus(ctx, c, "L-L", regions, trial, within, &FocusOptions{LeastDrop: -1})), "drop -1"},
	} {
		t.Run(test.name, func(t *testing.T) { check.Error(t, test.err, test.want) })
	}
}
