// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

// bicubic is a polynomial of the rows and columns from the first corner of a cell. Element [k][l]
// is the factor of row^k · column^l.
type bicubic [4][4]float64

// polynomial returns the bicubic Hermite interpolant: the polynomial with the time, the slopes and
// the mixed derivative of each corner.
func (c *cell) polynomial() bicubic {
	// For each column of corners: the time and its derivative with respect to the column, as cubic
	// polynomials of the row.
	n := &c.corners
	rows, columns := float64(c.rows), float64(c.columns)
	left := cubic(n[0].time, n[0].b, n[2].time, n[2].b, rows)
	right := cubic(n[1].time, n[1].b, n[3].time, n[3].b, rows)
	leftAcross := cubic(n[0].a, n[0].mixed, n[2].a, n[2].mixed, rows)
	rightAcross := cubic(n[1].a, n[1].mixed, n[3].a, n[3].mixed, rows)
	var b bicubic
	for k := range b {
		b[k] = cubic(left[k], leftAcross[k], right[k], rightAcross[k], columns)
	}
	return b
}

// cubic returns the coefficients of the cubic polynomial with the given values and slopes at 0 and
// at the length. The polynomial is constant if the length is 0.
func cubic(f0, d0, f1, d1, length float64) [4]float64 {
	if length == 0 {
		return [4]float64{f0}
	}
	chord := (f1 - f0) / length
	return [4]float64{f0, d0, (3*chord - 2*d0 - d1) / length, (d0 + d1 - 2*chord) / (length * length)}
}

// shifted returns the polynomial with columns that are counted from u, which may lie between two
// columns.
func (b *bicubic) shifted(u float64) bicubic {
	var s bicubic
	for k, c := range b {
		s[k] = [4]float64{
			c[0] + u*(c[1]+u*(c[2]+u*c[3])),
			c[1] + u*(2*c[2]+3*u*c[3]),
			c[2] + 3*u*c[3],
			c[3],
		}
	}
	return s
}

// row returns the coefficients of the cubic polynomial of the column in a row.
func (b *bicubic) row(v float64) (c0, c1, c2, c3 float64) {
	at := func(l int) float64 { return b[0][l] + v*(b[1][l]+v*(b[2][l]+v*b[3][l])) }
	return at(0), at(1), at(2), at(3)
}

// at returns the value at a row and a column.
func (b *bicubic) at(v, u float64) float64 {
	c0, c1, c2, c3 := b.row(v)
	return c0 + u*(c1+u*(c2+u*c3))
}

// slopes returns the derivatives with respect to the column and to the row.
func (b *bicubic) slopes(v, u float64) (across, down float64) {
	_, c1, c2, c3 := b.row(v)
	along := func(k int) float64 { return b[k][0] + u*(b[k][1]+u*(b[k][2]+u*b[k][3])) }
	return c1 + u*(2*c2+3*u*c3), along(1) + v*(2*along(2)+3*v*along(3))
}
