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
	amplitudes, err = amplitudesAt(env, places)
	return amplitudes, spacing, err
}

// amplitudesAt returns the amplitudes at places of env.
func amplitudesAt(env *tfm.Envelope, places []place) ([]float64, error) {
	if err := checkQuantity(env); err != nil {
		return nil, err
	}
	amplitudes := make([]float64, len(places))
	for i, p := range places {
		var err error
		if amplitudes[i], err = bilinear(env, p); err != nil {
			return nil, err
		}
	}
	return amplitudes, nil
}

// place is a column and a row of a grid, with fractions.
type place struct{ col, row float64 }

// line returns n places along a line on the grid of env, and their distance in metres.
func line(env *tfm.Envelope, from, to r3.Vec, n int) (places []place, spacing float64, err error) {
	if err := checkGrid(env); err != nil {
		return nil, 0, err
	}
	if err := checkCount(n); err != nil {
		return nil, 0, err
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

// checkCount returns an error unless a profile can have n amplitudes.
func checkCount(n int) error {
	const most = 1 << 28
	if n < 2 || n > most {
		return fmt.Errorf("sizing: profile of %d amplitudes: want 2 to %d", n, most)
	}
	return nil
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

// corner is a pixel next to a place, with the weight of the pixel in bilinear interpolation.
type corner struct {
	pixel  int
	weight float64
}

// corners returns the pixels around a place of g.
func (p place) corners(g tfm.Grid) [4]corner {
	c, r := int(p.col), int(p.row)
	u, v := p.col-float64(c), p.row-float64(r)
	nextCol, nextRow := min(c+1, g.Cols-1), min(r+1, g.Rows-1)
	return [4]corner{
		{r*g.Cols + c, (1 - u) * (1 - v)},
		{r*g.Cols + nextCol, u * (1 - v)},
		{nextRow*g.Cols + c, (1 - u) * v},
		{nextRow*g.Cols + nextCol, u * v},
	}
}

// bilinear returns the amplitude at a place of env.
func bilinear(env *tfm.Envelope, p place) (float64, error) {
	var sum float64
	for _, c := range p.corners(env.Grid) {
		if err := checkAmplitude(env, c.pixel); err != nil {
			return 0, err
		}
		sum += c.weight * float64(env.Data[c.pixel])
	}
	return sum, nil
}
