// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/spatial/r3"
)

// support is how many neighbours the baseline of an element rests on.
const support = 8

// againstNeighbours returns each value less what its neighbours let expect there: a
// linear function of place, fitted to the nearest eight by least absolute deviations.
// What varies slowly along the array, as the length of the path through a wedge, is so
// taken away.
//
// Elements whose value is off by more than the threshold are left out of the baselines
// of the others, the worst first. Where that would be more than a third of them the
// values follow no such line, and none is left out. NaN values are not known and stay
// so.
func againstNeighbours(values []float64, at []r3.Vec, near [][]int, threshold float64) []float64 {
	off, ok := withoutWorst(values, at, near, threshold)
	if !ok {
		off, _ = withoutWorst(values, at, near, math.Inf(1))
	}
	return off
}

func withoutWorst(values []float64, at []r3.Vec, near [][]int, threshold float64) (off []float64, ok bool) {
	good := make([]bool, len(values))
	for e, v := range values {
		good[e] = !math.IsNaN(v)
	}
	off = make([]float64, len(values))
	stale := make([]bool, len(values))
	for e := range stale {
		stale[e] = true
	}
	for range len(values)/3 + 1 {
		worst, most := -1, threshold
		for e, v := range values {
			if stale[e] {
				off[e] = v - baseline(e, values, at, near[e], good)
			}
			if d := math.Abs(off[e]); good[e] && d > most {
				worst, most = e, d
			}
		}
		if worst < 0 {
			return off, true
		}
		good[worst] = false
		for e := range stale {
			stale[e] = false
			for _, o := range near[e] {
				stale[e] = stale[e] || o == worst
			}
		}
	}
	return off, false
}

// baseline returns the value that the good neighbours let expect at element e: the
// median of fewer than four, and e's own, so that nothing is said, of none.
func baseline(e int, values []float64, at []r3.Vec, near []int, good []bool) float64 {
	var v []float64
	var offset []r3.Vec
	for _, o := range near {
		if good[o] && len(v) < support {
			v, offset = append(v, values[o]), append(offset, r3.Sub(at[o], at[e]))
		}
	}
	switch {
	case len(v) == 0:
		return values[e]
	case len(v) < 4:
		return median(v)
	}
	scale := 0.0
	for _, d := range offset {
		scale = max(scale, r3.Norm(d))
	}
	// Least absolute deviations by least squares that are weighted again and again
	// (Schlossmacher, J. Am. Stat. Assoc. 68 (1973) 857, from memory). The ridge
	// settles the directions in which the neighbours do not extend.
	const rounds, ridge = 8, 1e-6
	weight := make([]float64, len(v))
	for i := range weight {
		weight[i] = 1
	}
	var fit [4]float64
	middle := median(v)
	for range rounds {
		var normal [16]float64 // the upper triangle, row by row
		fit = [4]float64{}
		for i, d := range offset {
			row := [4]float64{1, d.X / scale, d.Y / scale, d.Z / scale}
			for j := range 4 {
				for k := j; k < 4; k++ {
					normal[4*j+k] += weight[i] * row[j] * row[k]
				}
				fit[j] += weight[i] * row[j] * (v[i] - middle)
			}
		}
		for j := 1; j < 4; j++ {
			normal[5*j] += ridge * normal[0]
		}
		factors, ok := lapack64.Potrf(blas64.Symmetric{N: 4, Stride: 4, Data: normal[:], Uplo: blas.Upper})
		if !ok {
			return middle
		}
		lapack64.Potrs(factors, blas64.General{Rows: 4, Cols: 1, Stride: 1, Data: fit[:]})
		size := 0.0
		for i, d := range offset {
			weight[i] = math.Abs(v[i] - middle - fit[0] - (fit[1]*d.X+fit[2]*d.Y+fit[3]*d.Z)/scale)
			size += weight[i]
		}
		if size == 0 {
			break
		}
		for i := range weight {
			weight[i] = 1 / max(weight[i]/size, 1e-4)
		}
	}
	return middle + fit[0]
}
