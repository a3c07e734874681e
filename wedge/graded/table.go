// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Table is a texture measured on a lattice, as from a macrograph or by
// diffraction.
type Table struct {
	X, Z          float64 // position of row 0, column 0, m
	StepX, StepZ  float64 // spacing of columns and of rows, m, 1e-6 to 1
	Rows, Columns int     // at least 2 each
	// Angles holds the angle of the grain axis, rad from +x towards +z, at
	// row·Columns + column. A half turn changes nothing. Neighbours, also
	// diagonal ones, differ by less than 60°, modulo 180°: a wider step leaves open
	// which way the grains turn between them.
	Angles []float64
	// Factors, if not nil, holds the factor of all speeds at the same indices, 0.5 to 2.
	Factors []float64
}

// steepest is the least cosine of twice the angle between neighbours.
const steepest = -0.5

// Validate reports the first field outside its range.
func (t Table) Validate() error {
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
		return fmt.Errorf("graded: table of %d rows and %d columns: want 2 to %d of each", t.Rows, t.Columns, most)
	}
	if len(t.Angles) != t.Rows*t.Columns {
		return fmt.Errorf("graded: %d angles of the table: want %d rows of %d columns", len(t.Angles), t.Rows, t.Columns)
	}
	if t.Factors != nil && len(t.Factors) != len(t.Angles) {
		return fmt.Errorf("graded: %d factors of the table: want none or one for each of the %d angles", len(t.Factors), len(t.Angles))
	}
	for i, f := range t.Factors {
		if err := checkRange(fmt.Sprintf("factor %d of the table", i), f, 0.5, 2, ""); err != nil {
			return err
		}
	}
	return t.checkAngles()
}

// checkAngles reports an angle that is not finite, or too far from a neighbour's.
func (t Table) checkAngles() error {
	for i, a := range t.Angles {
		if math.IsNaN(a) || math.IsInf(a, 0) {
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
					return fmt.Errorf("graded: angles %v and %v rad of the table at row %d, column %d and row %d, column %d: want neighbours less than 60° apart, modulo 180°", a, b, r, c, to[0], to[1])
				}
			}
		}
	}
	return nil
}

// Texture returns t as a texture: cubic splines through the values, twice
// continuously differentiable. Angles are interpolated as axes, by the cosine
// and sine of twice the angle, so that 179° and 1° are neighbours. Beyond the
// lattice the values of its edge go on. It copies what it needs.
func (t Table) Texture() (Texture, error) {
	if err := t.Validate(); err != nil {
		return nil, err
	}
	cos, sin := make([]float64, len(t.Angles)), make([]float64, len(t.Angles))
	for i, a := range t.Angles {
		sin[i], cos[i] = math.Sincos(2 * a)
	}
	m := &measured{Table: t, cos: t.spline(cos), sin: t.spline(sin)}
	if t.Factors != nil {
		m.factor = t.spline(t.Factors)
	}
	m.Angles, m.Factors = nil, nil
	return m, nil
}

// measured is the texture of a table.
type measured struct {
	Table
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

// basis holds the four uniform cubic B-splines that are not zero at a place, with
// their slopes in units of the spacing. Coefficients are mirrored at the ends, so
// that the spline is level there and goes on level.
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
func (t Table) spline(values []float64) []float64 {
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

// interpolating turns values, every stride-th element, into the coefficients c of
// the spline through them: (c[i−1] + 4 c[i] + c[i+1])/6 is the value at i, with
// c mirrored at both ends.
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
