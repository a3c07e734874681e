// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm"
)

// Profile returns n amplitudes of env along the straight line between two points, both ends
// included, and the distance between neighbouring amplitudes in metres, for [Drop]. Amplitudes are
// interpolated bilinearly between pixels.
//
// The envelope must be one section; the y of the points is ignored. The points must differ, and
// must lie in the rectangle of the centres of the pixels; n is at least 2. An envelope that holds
// no amplitudes ([tfm.Quantity]) is an error.
func Profile(env *tfm.Envelope, from, to r3.Vec, n int) (amplitudes []float64, spacing float64, err error) {
	places, spacing, err := line(env, from, to, n)
	if err != nil {
		return nil, 0, err
	}
	if err := checkQuantity(env); err != nil {
		return nil, 0, err
	}
	amplitudes = make([]float64, n)
	for i, p := range places {
		if amplitudes[i], err = bilinear(env, p); err != nil {
			return nil, 0, err
		}
	}
	return amplitudes, spacing, nil
}

// place is a column and a row of a grid, with fractions.
type place struct{ col, row float64 }

// line returns n places along a line on the grid of env, and their distance in metres.
func line(env *tfm.Envelope, from, to r3.Vec, n int) (places []place, spacing float64, err error) {
	if err := checkGrid(env); err != nil {
		return nil, 0, err
	}
	const most = 1 << 28
	if n < 2 || n > most {
		return nil, 0, fmt.Errorf("sizing: profile of %d amplitudes: want 2 to %d", n, most)
	}
	first, err := placeOf(env.Grid, from)
	if err != nil {
		return nil, 0, err
	}
	last, err := placeOf(env.Grid, to)
	if err != nil {
		return nil, 0, err
	}
	spacing = math.Hypot(to.X-from.X, to.Z-from.Z) / float64(n-1)
	if spacing == 0 {
		return nil, 0, fmt.Errorf("sizing: profile from and to (%v, %v) m: want two points apart", from.X, from.Z)
	}
	places = make([]place, n)
	for i := range places {
		t := float64(i) / float64(n-1)
		places[i] = place{first.col + t*(last.col-first.col), first.row + t*(last.row-first.row)}
	}
	return places, spacing, nil
}

// placeOf returns the place of point p, and whether p is on the grid. It allows for the rounding
// of positions.
func placeOf(g tfm.Grid, p r3.Vec) (place, error) {
	const allowance = 1e-6
	lastCol, lastRow := float64(g.Cols-1), float64(g.Rows-1)
	col, row := (p.X-g.Origin.X)/g.Step.X, (p.Z-g.Origin.Z)/g.Step.Z
	if !(col >= -allowance && col <= lastCol+allowance && row >= -allowance && row <= lastRow+allowance) {
		return place{}, fmt.Errorf("sizing: end of profile at (%v, %v) m: want x from %v to %v m and z from %v to %v m",
			p.X, p.Z, g.X(0), g.X(g.Cols-1), g.Y(0), g.Y(g.Rows-1))
	}
	return place{min(max(col, 0), lastCol), min(max(row, 0), lastRow)}, nil
}

// bilinear returns the amplitude at a place of env, from the four pixels around it.
func bilinear(env *tfm.Envelope, p place) (float64, error) {
	c, r := int(p.col), int(p.row)
	u, v := p.col-float64(c), p.row-float64(r)
	nextCol, nextRow := min(c+1, env.Cols-1), min(r+1, env.Rows-1)
	var sum float64
	for _, corner := range [4]struct {
		pixel  int
		weight float64
	}{
		{r*env.Cols + c, (1 - u) * (1 - v)},
		{r*env.Cols + nextCol, u * (1 - v)},
		{nextRow*env.Cols + c, (1 - u) * v},
		{nextRow*env.Cols + nextCol, u * v},
	} {
		if err := checkAmplitude(env, corner.pixel); err != nil {
			return 0, err
		}
		sum += corner.weight * float64(env.Data[corner.pixel])
	}
	return sum, nil
}
