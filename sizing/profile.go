// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm"
)

// Profile returns n amplitudes of env along the straight line between two points,
// both ends included, and their distance from each other in metres: what [Drop]
// takes. Amplitudes are interpolated bilinearly between pixels.
//
// The envelope must be one section; the y of the points is not looked at. The points
// must lie on the grid, in the rectangle of its pixels' centres, and apart; n is
// at least 2.
func Profile(env *tfm.Envelope, from, to r3.Vec, n int) (amplitudes []float64, spacing float64, err error) {
	if err := checkGrid(env); err != nil {
		return nil, 0, err
	}
	if n < 2 || n > tfm.MaxPixels {
		return nil, 0, fmt.Errorf("sizing: profile of %d amplitudes: want 2 to %d", n, tfm.MaxPixels)
	}
	x0, z0, err := pixelAt(env.Grid, from)
	if err != nil {
		return nil, 0, err
	}
	x1, z1, err := pixelAt(env.Grid, to)
	if err != nil {
		return nil, 0, err
	}
	spacing = math.Hypot(to.X-from.X, to.Z-from.Z) / float64(n-1)
	if spacing == 0 {
		return nil, 0, fmt.Errorf("sizing: profile from and to (%v, %v) m: want two points apart", from.X, from.Z)
	}
	amplitudes = make([]float64, n)
	for i := range amplitudes {
		t := float64(i) / float64(n-1)
		if amplitudes[i], err = bilinear(env, x0+t*(x1-x0), z0+t*(z1-z0)); err != nil {
			return nil, 0, err
		}
	}
	return amplitudes, spacing, nil
}

// pixelAt returns the column and row of point p, with fractions, or that p is not
// on the grid. The allowance is for the rounding of positions.
func pixelAt(g tfm.Grid, p r3.Vec) (col, row float64, err error) {
	const allowance = 1e-6
	lastCol, lastRow := float64(g.Cols-1), float64(g.Rows-1)
	col, row = (p.X-g.Origin.X)/g.Step.X, (p.Z-g.Origin.Z)/g.Step.Z
	if !(col >= -allowance && col <= lastCol+allowance && row >= -allowance && row <= lastRow+allowance) {
		return 0, 0, fmt.Errorf("sizing: end of profile at (%v, %v) m: want x from %v to %v m and z from %v to %v m",
			p.X, p.Z, g.X(0), g.X(g.Cols-1), g.Y(0), g.Y(g.Rows-1))
	}
	return min(max(col, 0), lastCol), min(max(row, 0), lastRow), nil
}

// bilinear returns the amplitude at a column and row of env, with fractions,
// that lie on the grid.
func bilinear(env *tfm.Envelope, col, row float64) (float64, error) {
	c, r := int(col), int(row)
	u, v := col-float64(c), row-float64(r)
	nextCol, nextRow := min(c+1, env.Cols-1), min(r+1, env.Rows-1)
	var sum float64
	for _, corner := range [4]struct {
		row, col int
		weight   float64
	}{
		{r, c, (1 - u) * (1 - v)},
		{r, nextCol, u * (1 - v)},
		{nextRow, c, (1 - u) * v},
		{nextRow, nextCol, u * v},
	} {
		i := corner.row*env.Cols + corner.col
		if err := checkAmplitude(env, i); err != nil {
			return 0, err
		}
		sum += corner.weight * float64(env.Data[i])
	}
	return sum, nil
}
