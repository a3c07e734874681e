// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// MeasuredGrains holds the grains at the points of a lattice, measured on a macrograph or by
// diffraction.
type MeasuredGrains struct {
	X, Z          float64 // position of row 0, column 0, m
	StepX, StepZ  float64 // spacing of columns and of rows, m, 1e-6 to 1
	Rows, Columns int     // at least 2 each
	// Angles holds the angle of the grain axis, rad from +x towards +z, at row·Columns + column. A
	// half turn changes nothing. Neighbours, also diagonal neighbours, differ by less than 60°,
	// modulo 180°. For a larger difference the direction of the turn would be ambiguous.
	Angles []float64
	// Factors holds the factor of all speeds at the same indices, 0.5 to 2; nil stands for 1.
	Factors []float64
}

// steepest is the least cosine of twice the angle between neighbours.
const steepest = -0.5

// validate returns an error that names the first field that is out of range.
func (t MeasuredGrains) validate() error {
	if err := checkRange("x of the table", t.X, -1e3, 1e3, " m"); err != nil {
		return err
	}
	if err := checkRange("z of the table", t.Z, -1e3, 1e3, " m"); err != nil {
		return err
	}
	if err := checkRange("spacing of columns", t.StepX, 1e-6, 1, " m"); err != nil {
		return err
	}
	if err := checkRange("spacing of rows", t.StepZ, 1e-6, 1, " m"); err != nil {
		return err
	}
	const most = 1 << 12
	if t.Rows < 2 || t.Rows > most || t.Columns < 2 || t.Columns > most {
		return fmt.Errorf("graded: table of %d rows and %d columns: want 2 to %d of each", t.Rows,
			t.Columns, most)
	}
	if len(t.Angles) != t.Rows*t.Columns {
		return fmt.Errorf("graded: %d angles of the table: want %d rows of %d columns",
			len(t.Angles), t.Rows, t.Columns)
	}
	if t.Factors != nil && len(t.Factors) != len(t.Angles) {
		return fmt.Errorf("graded: %d factors of the table: "+
			"want none or one for each of the %d angles", len(t.Factors), len(t.Angles))
	}
	for i, f := range t.Factors {
		if err := checkRange(fmt.Sprintf("factor %d of the table", i), f, 0.5, 2, ""); err != nil {
			return err
		}
	}
	return t.checkAngles()
}

// checkAngles returns an error for an angle that is not finite, or too far from the angle of a
// neighbour.
func (t MeasuredGrains) checkAngles() error {
	for i, a := range t.Angles {
		if !number.Finite(a) {
			return fmt.Errorf("graded: angle %d of the table %v rad: want a finite value", i, a)
		}
	}
	for r := range t.Rows {
		for c := range t.Columns {
			for _, to := range [][2]int{{r, c + 1}, {r + 1, c - 1}, {r + 1, c}, {r + 1, c + 1}} {
				if to[0] >= t.Rows || to[1] < 0 || to[1] >= t.Columns {
					continue
				}
				a, b := t.Angles[r*t.Columns+c], t.Angles[to[0]*t.Columns+to[1]]
				if math.Cos(2*(a-b)) <= steepest {
					return fmt.Errorf("graded: angle %v rad at row %d, column %d, and %v rad at "+
						"row %d, column %d of the table: "+
						"want neighbours less than 60° apart, modulo 180°",
						a, r, c, b, to[0], to[1])
				}
			}
		}
	}
	return nil
}

// Texture returns the texture through the values, or an error that names the field that is out of
// range. It interpolates by cubic splines, which are twice continuously differentiable. It
// interpolates the cosine and the sine of twice the angle, so that 179° and 1° are neighbours.
// Beyond the lattice the values at its edge continue. The texture does not share memory with t.
func (t MeasuredGrains) Texture() (Texture, error) {
	if err := t.validate(); err != nil {
		return nil, err
	}
	cos, sin := make([]float64, len(t.Angles)), make([]float64, len(t.Angles))
	for i, a := range t.Angles {
		sin[i], cos[i] = math.Sincos(2 * a)
	}
	m := &measured{MeasuredGrains: t, cos: t.spline(cos), sin: t.spline(sin)}
	if t.Factors != nil {
		m.factor = t.spline(t.Factors)
	}
	m.Angles, m.Factors = nil, nil
	return m, nil
}

// measured is the texture of measured grains.
type measured struct {
	MeasuredGrains
	cos, sin, factor []float64 // coefficients of the splines
}

// At implements [Texture].
func (m *measured) At(p r3.Vec) Grain {
	bx := newBasis((p.X-m.X)/m.StepX, m.Columns)
	bz := newBasis((p.Z-m.Z)/m.StepZ, m.Rows)
	c, cx, cz := m.sum(m.cos, &bx, &bz)
	s, sx, sz := m.sum(m.sin, &bx, &bz)
	g := Grain{Angle: math.Atan2(s, c) / 2, Factor: 1}
	scale := 1 / (2 * (c*c + s*s))
	g.AngleGradient.X = scale * (c*sx - s*cx)
	g.AngleGradient.Z = scale * (c*sz - s*cz)
	if m.factor != nil {
		g.Factor, g.FactorGradient.X, g.FactorGradient.Z = m.sum(m.factor, &bx, &bz)
	}
	return g
}

// sum returns a spline with its derivatives by x and z.
func (m *measured) sum(coefficients []float64, bx, bz *basis) (value, byX, byZ float64) {
	for i, r := range bz.index {
		row := coefficients[r*m.Columns:][:m.Columns]
		var v, d float64
		for j, c := range bx.index {
			v += bx.weight[j] * row[c]
			d += bx.slope[j] * row[c]
		}
		value += bz.weight[i] * v
		byX += bz.weight[i] * d
		byZ += bz.slope[i] * v
	}
	return value, byX / m.StepX, byZ / m.StepZ
}

// basis holds the four uniform cubic B-splines that are not zero at a place, with their slopes in
// units of the spacing. Coefficients are mirrored at the ends: the spline is level there and
// continues level.
type basis struct {
	index         [4]int
	weight, slope [4]float64
}

// newBasis returns the basis at t, in units of the spacing, of n values.
func newBasis(t float64, n int) basis {
	inside := max(0, min(t, float64(n-1)))
	k := min(int(inside), n-2)
	u := inside - float64(k)
	v := 1 - u
	b := basis{
		weight: [4]float64{v * v * v / 6, 2./3 - u*u*(2-u)/2, 2./3 - v*v*(2-v)/2, u * u * u / 6},
		slope:  [4]float64{-v * v / 2, u * (3*u/2 - 2), -v * (3*v/2 - 2), u * u / 2},
	}
	if inside != t {
		b.slope = [4]float64{}
	}
	for i := range b.index {
		at := k - 1 + i
		if at < 0 {
			at = 1
		}
		if at >= n {
			at = n - 2
		}
		b.index[i] = at
	}
	return b
}

// spline returns the coefficients of the spline through the values.
func (t MeasuredGrains) spline(values []float64) []float64 {
	out := make([]float64, len(values))
	copy(out, values)
	for r := range t.Rows {
		interpolating(out[r*t.Columns:][:t.Columns], 1)
	}
	for c := range t.Columns {
		interpolating(out[c:], t.Columns)
	}
	return out
}

// interpolating replaces every stride-th value by the coefficient c of the spline through the
// values. The value at i is (c[i−1] + 4 c[i] + c[i+1])/6, with c mirrored at both ends.
func interpolating(values []float64, stride int) {
	n := (len(values) + stride - 1) / stride
	upper := make([]float64, n)
	for i := range n {
		before, after := 1.0, 1.0
		switch i {
		case 0:
			before, after = 0, 2
		case n - 1:
			before, after = 2, 0
		}
		pivot, right := 4.0, 6*values[i*stride]
		if i > 0 {
			pivot -= before * upper[i-1]
			right -= before * values[(i-1)*stride]
		}
		upper[i] = after / pivot
		values[i*stride] = right / pivot
	}
	for i := n - 2; i >= 0; i-- {
		values[i*stride] -= upper[i] * values[(i+1)*stride]
	}
}
