// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// axial returns the angle between two axes.
func axial(a, b float64) float64 { return math.Abs(math.Remainder(a-b, math.Pi)) }

// TestLawLimits compares the grain law with values that follow at once from its formula and from
// the growth of columnar grains.
func TestLawLimits(t *testing.T) {
	law := grainLaw{vee, 1.3, 1}
	half := func(z float64) float64 { w, _ := vee.halfWidth(z); return w }
	lower := joint.Edge{Lower: veeEdge.Upper}
	turned := joint.Butt{Thickness: 30e-3, Gap: 6e-3, LowerGroove: 30e-3, Left: lower, Right: lower}
	wideBelow := check.Must(newGroove(metalOf(check.Must(turned.Joint()))[0]))
	for _, row := range []struct {
		name string
		law  grainLaw
		at   r3.Vec
		want float64
	}{
		{"upright on the centre line", law, r3.Vec{Z: 10e-3}, math.Pi / 2},
		{"upright just left of it", law, r3.Vec{X: -1e-12, Z: 10e-3}, math.Pi / 2},
		{"arctan T on the right fusion face, leaning to the centre", law,
			r3.Vec{X: half(10e-3), Z: 10e-3}, math.Atan(1.3)},
		{"the same at another depth", law, r3.Vec{X: half(25e-3), Z: 25e-3}, math.Atan(1.3)},
		{"mirrored on the left", law, r3.Vec{X: -half(10e-3), Z: 10e-3}, -math.Atan(1.3)},
		{"flat far from the centre", law, r3.Vec{X: 1e6, Z: 10e-3}, 0},
		{"upright everywhere for a large T", grainLaw{vee, 100, 1}, r3.Vec{X: 1e-3, Z: 10e-3},
			math.Pi / 2},
		{"root turned up: leaning the other way", grainLaw{wideBelow, 1.3, 1},
			r3.Vec{X: half(10e-3), Z: 20e-3}, -math.Atan(1.3)},
		{"the formula in millimetres for eta 0.5", grainLaw{vee, 1.3, 0.5},
			r3.Vec{X: 4e-3, Z: 30e-3}, math.Atan(1.3 * 3 / 2)},
	} {
		if got := row.law.At(row.at).Angle; !(axial(got, row.want) <= 0.006) {
			t.Errorf("%s: %v rad, want %v", row.name, got, row.want)
		}
	}
}

// checkGradients compares the gradients of a texture with differences.
func checkGradients(t *testing.T, name string, x Texture, at r3.Vec) {
	t.Helper()
	const h = 1e-7
	g := x.At(at)
	for _, axis := range []r3.Vec{{X: 1}, {Z: 1}} {
		a, b := x.At(r3.Sub(at, r3.Scale(h, axis))), x.At(r3.Add(at, r3.Scale(h, axis)))
		if want, got := math.Remainder(b.Angle-a.Angle, math.Pi)/(2*h), r3.Dot(axis,
			g.AngleGradient); !(math.Abs(got-want) <= 1e-4*(1+math.Abs(want))) {
			t.Errorf("%s at %v along %v: gradient of the angle %v, differences %v", name, at, axis,
				got, want)
		}
		if want, got := (b.Factor-a.Factor)/(2*h), r3.Dot(axis,
			g.FactorGradient); !(math.Abs(got-want) <= 1e-4*(1+math.Abs(want))) {
			t.Errorf("%s at %v along %v: gradient of the factor %v, differences %v", name, at, axis,
				got, want)
		}
	}
}

// lawTable returns a law sampled on a lattice, with half turns added at some places and a factor
// that varies.
func lawTable(law grainLaw, step float64) MeasuredGrains {
	t := MeasuredGrains{X: -24e-3, Z: -1e-3, StepX: step, StepZ: step, Rows: int(32e-3/step) + 1,
		Columns: int(48e-3/step) + 1}
	for r := range t.Rows {
		for c := range t.Columns {
			at := r3.Vec{X: t.X + float64(c)*step, Z: t.Z + float64(r)*step}
			t.Angles = append(t.Angles, law.At(at).Angle+math.Pi*float64((7*r+3*c)%5-2))
			t.Factors = append(t.Factors, 1+0.05*math.Sin(200*at.X)*math.Cos(150*at.Z))
		}
	}
	return t
}

// TestTextureGradients compares the gradients of textures with differences.
func TestTextureGradients(t *testing.T) {
	table := check.Must(lawTable(grainLaw{vee, 1.3, 1}, 1e-3).Texture())
	for _, at := range []r3.Vec{{X: 1.234e-3, Z: 5.5e-3}, {X: -7.1e-3, Z: 18e-3},
		{X: 12e-3, Z: 0.3e-3}, {X: -23.9e-3, Z: 30.8e-3}} {
		checkGradients(t, "law", grainLaw{vee, 1.3, 1}, at)
		checkGradients(t, "law of eta 0.6", grainLaw{vee, 1.3, 0.6}, at)
		checkGradients(t, "table", table, at)
	}
	checkGradients(t, "beyond the table", table, r3.Vec{X: 40e-3, Z: 15e-3})
}

// TestTableNearsTheLaw checks that measured grains return their own values, with any half turns.
// Between the values the error falls with the fourth power of the spacing.
func TestTableNearsTheLaw(t *testing.T) {
	law := grainLaw{vee, 1.3, 1}
	var miss [2]float64
	for k, step := range []float64{2e-3, 1e-3} {
		table := lawTable(law, step)
		x := check.Must(table.Texture())
		for r := range table.Rows {
			for c := range table.Columns {
				at := r3.Vec{X: table.X + float64(c)*step, Z: table.Z + float64(r)*step}
				g, i := x.At(at), r*table.Columns+c
				if !(axial(g.Angle, table.Angles[i]) <= 1e-12) ||
					!(math.Abs(g.Factor-table.Factors[i]) <= 1e-12) {
					t.Fatalf("row %d, column %d: %v rad and %v, want %v and %v", r, c, g.Angle,
						g.Factor, table.Angles[i], table.Factors[i])
				}
			}
		}
		for x0 := -10.; x0 <= 10; x0 += 0.37 {
			for z0 := 6.; z0 <= 16; z0 += 0.41 {
				at := r3.Vec{X: x0 * 1e-3, Z: z0 * 1e-3}
				miss[k] = max(miss[k], axial(x.At(at).Angle, law.At(at).Angle))
			}
		}
	}
	if !(miss[1] <= 1e-4) || !(miss[1] <= miss[0]/8) {
		t.Errorf("largest misses %v rad at 2 mm, %v rad at 1 mm", miss[0], miss[1])
	}
}

// TestTimesThroughATable compares times through measured grains with times through the law from
// which they are sampled. The difference is the error of the spline.
func TestTimesThroughATable(t *testing.T) {
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	law := grainLaw{vee, 1.3, 1}
	sampled := lawTable(law, 0.5e-3)
	sampled.Factors = nil
	exact := check.Must(NewWeld(polystyrene, parent, curves, law, veeWeld))
	table := check.Must(NewWeld(polystyrene, parent, curves, check.Must(sampled.Texture()),
		veeWeld))
	element := r3.Vec{X: -45e-3, Z: -12e-3}
	for _, to := range []r3.Vec{{X: 6e-3, Z: 12e-3}, {X: 20e-3, Z: 27e-3}} {
		a, b := check.Must(exact.Ray(qL, element, to, nil)), check.Must(table.Ray(qL, element, to,
			nil))
		if !(math.Abs(a.Time-b.Time) <= 100e-12) {
			t.Errorf("to %v: %v s through the law, %v %v s through the table", to, a.Time, b.Status,
				b.Time)
		}
	}
}

// TestFactorScalesTime checks that a factor of all speeds divides the time.
func TestFactorScalesTime(t *testing.T) {
	curves, _ := metal(t, "weld metal type 308")
	flat := MeasuredGrains{StepX: 0.1, StepZ: 0.1, Rows: 2, Columns: 2, Angles: make([]float64, 4)}
	fast := flat
	fast.Factors = []float64{1.25, 1.25, 1.25, 1.25}
	var times [2]float64
	for i, table := range []MeasuredGrains{flat, fast} {
		p := &Part{Entry: plane(0),
			Media: []Medium{check.Must(NewGrains(curves, check.Must(table.Texture())))}}
		times[i] = check.Must(p.Ray(qL, r3.Vec{X: 1e-2}, r3.Vec{X: 3e-2, Z: 3e-2},
			&Options{Spacing: 1e-3})).Time
	}
	if !(math.Abs(times[0]/times[1]-1.25) <= 1e-12) {
		t.Errorf("times %v, want a ratio of 1.25", times)
	}
}

// TestTexturesRefuse checks that errors name the faulty value.
func TestTexturesRefuse(t *testing.T) {
	good := MeasuredGrains{StepX: 1e-3, StepZ: 1e-3, Rows: 2, Columns: 2, Angles: []float64{0, 0.1,
		0.2, 0.3}}
	change := func(f func(*MeasuredGrains)) MeasuredGrains {
		t := good
		t.Angles = append([]float64(nil), good.Angles...)
		f(&t)
		return t
	}
	law := func(weld *joint.Joint, t, eta float64) func() error {
		return func() error { _, err := NewGrainLaw(weld, t, eta); return err }
	}
	for _, row := range []struct {
		name, want string
		validate   func() error
	}{
		{"eta", "eta", law(veeWeld, 1, math.NaN())},
		{"T", "T of the grain law", law(veeWeld, 0, 1)},
		{"no joint", "joint is missing", law(nil, 1, 1)},
		{"empty table", "spacing", MeasuredGrains{}.validate},
		{"one row", "rows", change(func(t *MeasuredGrains) { t.Rows = 1 }).validate},
		{"too few angles", "3 angles",
			change(func(t *MeasuredGrains) { t.Angles = t.Angles[:3] }).validate},
		{"NaN", "angle 2", change(func(t *MeasuredGrains) { t.Angles[2] = math.NaN() }).validate},
		{"across", "60°", change(func(t *MeasuredGrains) { t.Angles[3] = 1.3 }).validate},
		{"factor", "factor 1",
			change(func(t *MeasuredGrains) { t.Factors = []float64{1, 0, 1, 1} }).validate},
		{"number of factors", "factors",
			change(func(t *MeasuredGrains) { t.Factors = []float64{1} }).validate},
	} {
		if err := row.validate(); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: error %v, want one with %q", row.name, err, row.want)
		}
	}
	if err := good.validate(); err != nil {
		t.Error(err)
	}
	if err := change(func(t *MeasuredGrains) {
		t.Angles[3] = 0.3 +
			3*math.Pi
	}).validate(); err != nil {
		t.Errorf("half turns: %v", err)
	}
}
