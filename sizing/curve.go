// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm"
)

// ProfileAlong returns n amplitudes of env along a polyline, both ends included, at equal distances
// along it, and this distance in metres, for [Drop]. It is [Profile] for a curved line: a line at
// a constant depth below a pipe ([Wall.Line]), a fusion face, a wavy wall. All lengths that [Drop]
// returns are then lengths along the curve.
//
// The y of the points is ignored. There must be at least two points, in the rectangle of the
// centres of the pixels, and neighbours must differ. An arc of radius r that is drawn by chords of
// length s has chords up to s²/(8r) beside the arc, and is short by the share s²/(24r²).
func ProfileAlong(env *tfm.Envelope, line []r3.Vec, n int) (amplitudes []float64, spacing float64, err error) {
	if err := checkGrid(env); err != nil {
		return nil, 0, err
	}
	if err := checkCount(n); err != nil {
		return nil, 0, err
	}
	if len(line) < 2 {
		return nil, 0, fmt.Errorf("sizing: line of %d points: want at least 2", len(line))
	}
	corners := make([]place, len(line))
	lengths := make([]float64, len(line)) // from the start of the line
	for i, p := range line {
		if corners[i], err = placeOf(env.Grid, p); err != nil {
			return nil, 0, fmt.Errorf("point %d of the line: %w", i, err)
		}
		if i > 0 {
			step := math.Hypot(p.X-line[i-1].X, p.Z-line[i-1].Z)
			if step == 0 {
				return nil, 0, fmt.Errorf("sizing: points %d and %d of the line are both (%v, %v) m: want them apart", i-1, i, p.X, p.Z)
			}
			lengths[i] = lengths[i-1] + step
		}
	}
	last := len(line) - 1
	places := make([]place, n)
	piece := 0
	for i := range places {
		at := lengths[last] * float64(i) / float64(n-1)
		for piece < last-1 && at > lengths[piece+1] {
			piece++
		}
		t := (at - lengths[piece]) / (lengths[piece+1] - lengths[piece])
		a, b := corners[piece], corners[piece+1]
		places[i] = place{a.col + t*(b.col-a.col), a.row + t*(b.row-a.row)}
	}
	amplitudes, err = amplitudesAt(env, places)
	return amplitudes, lengths[last] / float64(n-1), err
}

// Line returns n points at a constant depth in metres below the near surface, at equal steps
// between two distances along the near surface ([Place.Along]), in the section of y = 0. On a pipe
// the line is an arc. At the depth d below an outer radius R it is shorter than on the surface, by
// the factor 1 - d/R. The results are nil for the zero Wall, and if n is below 2 or a length is not
// finite.
func (w Wall) Line(depth, from, to float64, n int) []r3.Vec {
	if sum := 0*depth + 0*from + 0*to; w.near == nil || n < 2 || sum != 0 {
		return nil
	}
	points := make([]r3.Vec, n)
	for i := range points {
		t := float64(i) / float64(n-1)
		patch := w.near.At(from+t*(to-from), 0)
		points[i] = r3.Add(patch.P, r3.Scale(depth, patch.Normal()))
	}
	return points
}
