// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// drawn returns a picture of x from -20 to 20 mm and z from 0 to 30 mm.
func drawn(f func(x, z float64) float64) *tfm.Envelope {
	g := tfm.Grid{Origin: r3.Vec{X: -20e-3}, Step: r3.Vec{X: 0.1e-3, Y: 1, Z: 0.1e-3}, Cols: 401, Rows: 301, Slices: 1}
	env := &tfm.Envelope{Grid: g, Data: make([]float32, g.Len())}
	for i := range env.Data {
		p := g.Point(i)
		env.Data[i] = float32(f(p.X, p.Z))
	}
	return env
}

// A straight line gives the same numbers as Profile, in one piece or in several.
func TestProfileAlongStraightLine(t *testing.T) {
	env := drawn(func(x, z float64) float64 { return 1 + math.Sin(400*x)*math.Cos(300*z) })
	from, to := r3.Vec{X: -15e-3, Z: 4e-3}, r3.Vec{X: 12e-3, Z: 25e-3}
	middle := r3.Add(r3.Scale(0.7, from), r3.Scale(0.3, to))
	want, spacing, err := sizing.Profile(env, from, to, 301)
	if err != nil {
		t.Fatal(err)
	}
	for name, line := range map[string][]r3.Vec{"one piece": {from, to}, "two pieces": {from, middle, to}} {
		got, s, err := sizing.ProfileAlong(env, line, 301)
		if err != nil {
			t.Fatal(err)
		}
		check.Within(t, name+": spacing", s, spacing, 1e-15)
		for i := range want {
			if !(math.Abs(got[i]-want[i]) <= 1e-9) {
				t.Fatalf("%s: amplitude %d is %v, want %v", name, i, got[i], want[i])
			}
		}
	}
}

// TestDropAlongPipe sizes a flaw that follows the wall of a pipe: 30° of arc at a depth of 6 mm in
// a pipe with an outer radius of 40 mm has the length (40 - 6)·π/6 mm = 17.802 mm along the arc,
// and a chord of 17.600 mm. The echo falls to half at both ends.
func TestDropAlongPipe(t *testing.T) {
	const radius, depth = 40e-3, 6e-3
	env := drawn(func(x, z float64) float64 {
		angle := math.Atan2(x, radius-z)
		across := (math.Hypot(x, radius-z) - (radius - depth)) / 1e-3
		along := (radius - depth) * (math.Abs(angle) - math.Pi/12) / 1e-3
		return math.Exp(-across*across) * math.Erfc(2*along)
	})
	w := pipe(t, radius, 12e-3)
	const half = radius * 0.45
	line := w.Line(depth, -half, half, 200)
	profile, spacing, err := sizing.ProfileAlong(env, line, 1000)
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "length of the line", spacing*999, 2*half*(1-depth/radius), 1e-7)
	e, err := sizing.Drop(profile, spacing, sizing.SixDB)
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "length along the arc", e.Length(), (radius-depth)*math.Pi/6, 0.02e-3)
	for _, p := range line {
		check.Within(t, "depth", w.Place(p).Depth, depth, 1e-12)
	}
}

func TestProfileAlongInput(t *testing.T) {
	env := drawn(func(x, z float64) float64 { return 1 })
	a, b := r3.Vec{Z: 1e-3}, r3.Vec{Z: 2e-3}
	for _, test := range []struct {
		name  string
		line  []r3.Vec
		n     int
		words []string
	}{
		{"one point", []r3.Vec{a}, 10, []string{"line of 1 points"}},
		{"no step", []r3.Vec{a, b, b}, 10, []string{"points 1 and 2", "want them apart"}},
		{"outside", []r3.Vec{a, b, {Z: 31e-3}}, 10, []string{"point 2 of the line", "0.031"}},
		{"NaN", []r3.Vec{a, {X: math.NaN()}}, 10, []string{"point 1 of the line"}},
		{"one amplitude", []r3.Vec{a, b}, 1, []string{"profile of 1 amplitudes"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := sizing.ProfileAlong(env, test.line, test.n)
			check.Error(t, err, test.words...)
		})
	}
	w := plate(t, 10e-3)
	if diff := cmp.Diff([]r3.Vec{{X: -1, Z: 2}, {Z: 2}, {X: 1, Z: 2}}, w.Line(2, -1, 1, 3)); diff != "" {
		t.Error(diff)
	}
	for name, line := range map[string][]r3.Vec{
		"zero wall": sizing.Wall{}.Line(1, 0, 1, 3), "one point": w.Line(1, 0, 1, 1),
		"NaN": w.Line(math.NaN(), 0, 1, 3), "infinite": w.Line(1, 0, math.Inf(1), 3),
	} {
		if line != nil {
			t.Errorf("%s: %v, want nil", name, line)
		}
	}
}
