// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// support is the number of neighbours from which the baseline of an element is fitted.
const support = 8

// againstNeighbours returns each value less its baseline: a linear function of place, fitted to
// the nearest eight neighbours by least absolute deviations. This removes slow variations along
// the array, such as the length of the path through a wedge.
//
// Only elements that are fit enter the baselines. Elements whose value deviates by more than the
// threshold are left out of the baselines of the others too, the worst first. If this would be
// more than a third of the elements, the values do not follow such a line, and no element is left
// out. NaN values stay NaN.
func againstNeighbours(values []float64, fit []bool, at []r3.Vec, near [][]int, threshold float64) (off []float64, used []bool) {
	off, used, ok := withoutWorst(values, fit, at, near, threshold)
	if !ok {
		off, used, _ = withoutWorst(values, fit, at, near, math.Inf(1))
	}
	return off, used
}

func withoutWorst(values []float64, fit []bool, at []r3.Vec, near [][]int, threshold float64) (off []float64, good []bool, ok bool) {
	good = make([]bool, len(values))
	for e, v := range values {
		good[e] = fit[e] && !math.IsNaN(v)
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
				off[e] = v - baseline(e, values, at, near[e], good, linear)
			}
			if d := math.Abs(off[e]); good[e] && d > most {
				worst, most = e, d
			}
		}
		if worst < 0 {
			return off, good, true
		}
		good[worst] = false
		for e := range stale {
			stale[e] = false
			for _, o := range near[e] {
				stale[e] = stale[e] || o == worst
			}
		}
	}
	return off, good, false
}

// The number of terms of a baseline: a constant and a slope along each axis, and for a
// curved one a square along the line to the most distant neighbour.
const constant, linear, curved = 1, 4, 5

// baseline returns the value at element e that is expected from the good neighbours. If there are
// fewer neighbours than terms, it is their median. If there are none, it is the value of e itself,
// so that the difference is 0.
func baseline(e int, values []float64, at []r3.Vec, near []int, good []bool, terms int) float64 {
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
	case len(v) < terms:
		return number.Median(v)
	}
	far := offset[0]
	for _, d := range offset {
		if r3.Norm(d) > r3.Norm(far) {
			far = d
		}
	}
	scale := r3.Norm(far)
	rows := make([][curved]float64, len(v))
	for i, d := range offset {
		along := r3.Dot(d, far) / (scale * scale)
		rows[i] = [curved]float64{1, d.X / scale, d.Y / scale, d.Z / scale, along * along}
	}
	// Least absolute deviations by least squares that are weighted again and again (Schlossmacher,
	// J. Am. Stat. Assoc. 68 (1973) 857, from memory). The ridge makes the fit unique in
	// directions in which the neighbours do not extend.
	const rounds, ridge = 8, 1e-6
	weight := make([]float64, len(v))
	for i := range weight {
		weight[i] = 1
	}
	var fit [curved]float64
	middle := number.Median(v)
	for range rounds {
		var normal [curved * curved]float64 // the upper triangle, row by row
		fit = [curved]float64{}
		for i, row := range rows {
			for j := range terms {
				for k := j; k < terms; k++ {
					normal[terms*j+k] += weight[i] * row[j] * row[k]
				}
				fit[j] += weight[i] * row[j] * (v[i] - middle)
			}
		}
		for j := 1; j < terms; j++ {
			normal[(terms+1)*j] += ridge * normal[0]
		}
		factors, ok := lapack64.Potrf(blas64.Symmetric{N: terms, Stride: terms, Data: normal[:terms*terms], Uplo: blas.Upper})
		if !ok {
			return middle
		}
		lapack64.Potrs(factors, blas64.General{Rows: terms, Cols: 1, Stride: 1, Data: fit[:terms]})
		size := 0.0
		for i, row := range rows {
			off := v[i] - middle
			for j := range terms {
				off -= fit[j] * row[j]
			}
			weight[i] = math.Abs(off)
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

// relative returns each level relative to the levels of the neighbours. Silent elements are in no
// baseline.
func (a *assessment) relative(level []float64, threshold, silence float64) []float64 {
	fit := make([]bool, len(level))
	for e, v := range level {
		fit[e] = v > -silence
	}
	at := a.capture.Array.Elements
	off, used := againstNeighbours(level, fit, at, a.near, threshold)
	for e, near := range a.near {
		if !extrapolated(e, at, near, used) {
			continue
		}
		// Beside a gap the median of the neighbours is as good an estimate as a line through them.
		if v := level[e] - baseline(e, level, at, near, used, constant); math.Abs(v) < math.Abs(off[e]) {
			off[e] = v
		}
	}
	return off
}

// leastPiece is the least number of elements among which a late element can be recognised.
const leastPiece = 5

// drifts returns each time zero relative to the neighbours of the same piece. It is NaN in a piece
// of fewer than leastPiece elements. A line and a curve through the neighbours are both possible
// baselines: the one nearer to the element counts. The standard error of a drift is composed of
// the scatter over the partners and of the scatter over the elements of the piece: an unexplained
// coherent signal, such as a tone that was not found, raises one or the other.
func (a *assessment) drifts(c chained, threshold float64) (drift, doubt []float64) {
	zero, piece := c.zero, c.piece
	at, n := a.capture.Array.Elements, len(zero)
	near, size, fit := make([][]int, n), make([]int, n), make([]bool, n)
	for e, p := range piece {
		if p < 0 {
			continue
		}
		fit[e] = true
		size[p]++
		for _, o := range a.near[e] {
			if piece[o] == p {
				near[e] = append(near[e], o)
			}
		}
	}
	drift, used := againstNeighbours(zero, fit, at, near, threshold)
	for e, p := range piece {
		if p < 0 || size[p] < leastPiece {
			drift[e] = math.NaN()
			continue
		}
		if extrapolated(e, at, near[e], used) {
			drift[e] = math.NaN()
			continue
		}
		if d := zero[e] - baseline(e, zero, at, near[e], used, curved); math.Abs(d) < math.Abs(drift[e]) {
			drift[e] = d
		}
	}
	rough, doubt := make(map[int][]float64), make([]float64, n)
	for e, p := range piece {
		if !math.IsNaN(drift[e]) {
			rough[p] = append(rough[p], math.Abs(drift[e]))
		}
	}
	for e, p := range piece {
		doubt[e] = math.Hypot(c.doubt[e], 1.4826*number.Median(rough[p]))
	}
	return drift, doubt
}

// extrapolated reports whether the baseline of element e lies on one side of it only, and one of
// its two nearest neighbours is left out of it. Then late elements at the end of a piece cannot be
// distinguished from a bend of the surface there.
func extrapolated(e int, at []r3.Vec, near []int, used []bool) bool {
	if len(near) < 2 || used[near[0]] && used[near[1]] {
		return false
	}
	var first r3.Vec
	count := 0
	for _, o := range near {
		if !used[o] || count == support {
			continue
		}
		d := r3.Sub(at[o], at[e])
		if count++; count == 1 {
			first = d
		} else if r3.Dot(d, first) < 0 {
			return false
		}
	}
	return true
}
