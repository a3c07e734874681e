// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// levels is a separable model of the energies of the pairs in dB,
//
//	L(i→j) = t(i) + r(j) + f(|distance of i and j|)
//
// The function f keeps the effect of distance apart from a loss of an element. The model is fitted
// by medians, so a minority of bad elements does not affect it.
type levels struct {
	side [2][]float64 // t and r, median 0, NaN for an element without pairs
	path []float64    // f of each class
}

// heardShare is the quantile of the energies of an element's traces that tells whether the element
// is heard at all. Half of its partners may be silent.
const heardShare = 0.8

// silentEnds returns the elements on each side of which no echo stands out of the noise, though
// echoes of other elements do. Silent elements are left out of medians over the array, so that
// half of it may be dead.
func (a *assessment) silentEnds(energy, floor []float64) (silent [2][]bool) {
	for s := range a.ends.count() {
		silent[s] = make([]bool, len(a.near))
		heard := false
		for e := range silent[s] {
			var ratios []float64
			for _, end := range a.ends.sides[s][e] {
				if end.partner != e {
					ratios = append(ratios, energy[end.pair]/floor[end.pair])
				}
			}
			silent[s][e] = quantile(ratios, heardShare) < 1
			heard = heard || !silent[s][e] && len(ratios) > 0
		}
		if !heard {
			clear(silent[s])
		}
	}
	if !a.ends.separate {
		silent[1] = silent[0]
	}
	return silent
}

// farBelow is the level in dB of an element far below the others.
const farBelow = -6

const sweeps = 20 // of the fit; it settles in about five

// fitLevels fits the model to the energies, of which those below the floor count as the
// floor.
func (a *assessment) fitLevels(energy, floor []float64) levels {
	n := len(a.capture.Array.Elements)
	level := make([]float64, len(energy))
	for p, e := range energy {
		level[p] = 10 * math.Log10(max(e, floor[p]))
	}
	var l levels
	silent := a.silentEnds(energy, floor)
	for _, k := range a.class {
		for len(l.path) <= k {
			l.path = append(l.path, 0)
		}
	}
	l.side[0] = make([]float64, n)
	l.side[1] = l.side[0]
	if a.ends.separate {
		l.side[1] = make([]float64, n)
	}
	members := make([][]float64, len(l.path))
	var values []float64
	for range sweeps {
		for k := range members {
			members[k] = members[k][:0]
		}
		for p, pair := range a.capture.Pairs {
			if silent[0][pair.Tx] || silent[1][pair.Rx] {
				continue
			}
			k := a.class[p]
			members[k] = append(members[k], level[p]-l.side[0][pair.Tx]-l.side[1][pair.Rx])
		}
		for k, m := range members {
			l.path[k] = number.Median(m)
		}
		a.fillPath(l.path)
		for s := range a.ends.count() {
			side, other := l.side[s], l.side[1-s]
			for e := range side {
				values = values[:0]
				for _, end := range a.ends.sides[s][e] {
					if silent[1-s][end.partner] {
						continue
					}
					v := level[end.pair] - l.path[a.class[end.pair]]
					if end.partner == e && !a.ends.separate {
						v /= 2 // its own trace holds the element twice
					} else {
						v -= other[end.partner]
					}
					values = append(values, v)
				}
				side[e] = number.Median(values)
			}
			var heard []float64
			for e, v := range side {
				if !silent[s][e] {
					heard = append(heard, v)
				}
			}
			middle := number.Median(heard)
			for e := range side {
				side[e] -= middle
			}
		}
	}
	return l
}

// fillPath gives classes in which no pair is heard the value of the heard class that is nearest in
// distance.
func (a *assessment) fillPath(path []float64) {
	if !slices.ContainsFunc(path, math.IsNaN) {
		return
	}
	distance := make([]float64, len(path))
	at := a.capture.Array.Elements
	for p, pair := range a.capture.Pairs {
		distance[a.class[p]] = r3.Norm(r3.Sub(at[pair.Tx], at[pair.Rx]))
	}
	heard := slices.Clone(path)
	for k, v := range heard {
		nearest := math.Inf(1)
		for o, value := range heard {
			if d := math.Abs(distance[o] - distance[k]); math.IsNaN(v) && !math.IsNaN(value) && d < nearest {
				path[k], nearest = value, d
			}
		}
	}
}

// classes sorts the pairs by the distance of their elements, in steps of a quarter of
// the least distance, or coarser, until there are no more classes than a quarter of the
// pairs.
func (a *assessment) classes() []int {
	at, pairs := a.capture.Array.Elements, a.capture.Pairs
	distance := make([]float64, len(pairs))
	step := math.Inf(1)
	for p, pair := range pairs {
		distance[p] = r3.Norm(r3.Sub(at[pair.Tx], at[pair.Rx]))
		if distance[p] > 0 {
			step = min(step, distance[p]/4)
		}
	}
	for ; !math.IsInf(step, 1); step *= 2 {
		class, number := make([]int, len(pairs)), make(map[float64]int)
		for p, d := range distance {
			key := math.Round(d / step)
			if _, ok := number[key]; !ok {
				number[key] = len(number)
			}
			class[p] = number[key]
		}
		if len(number) <= max(1, len(pairs)/4) {
			return class
		}
	}
	return make([]int, len(pairs))
}

// pooled returns the levels of each element in dB against the median element. They are the levels
// of the model, except for an element far below the others. There the energy of all its pairs
// together is divided by the energy that the model expects with a median element in its place. The
// sum over the pairs reaches well below the noise of a single trace.
func (a *assessment) pooled(l levels, energy []float64) (level [2][]float64) {
	least := math.Pow(1e-9*slices.Max(energy), 2) // in place of the variance where there is no noise
	for s := range a.ends.count() {
		side, other := make([]float64, len(l.side[s])), l.side[1-s]
		for e := range side {
			side[e] = l.side[s][e]
			if !(side[e] < farBelow) {
				continue
			}
			// Least squares, each pair weighted by the inverse of what noise makes of
			// its energy.
			found, expected := 0.0, 0.0
			for _, end := range a.ends.sides[s][e] {
				// Silent partners tell nothing.
				if end.partner == e || other[end.partner] < -10 {
					continue
				}
				usual := math.Pow(10, (l.path[a.class[end.pair]]+other[end.partner])/10)
				weight := usual / (a.variance[end.pair]*a.variance[end.pair] + least)
				found += weight * energy[end.pair]
				expected += weight * usual
			}
			if expected > 0 {
				side[e] = max(-120, 10*math.Log10(max(0, found)/expected))
			}
		}
		level[s] = side
	}
	if !a.ends.separate {
		level[1] = level[0]
	}
	return level
}

// energies returns the energy of each pair above its noise in the window, and the least
// that stands out of the noise: three standard deviations of it, and 120 dB below the
// largest.
func (a *assessment) energies(w window) (energy, floor []float64) {
	c := a.capture
	energy, floor = make([]float64, len(c.Pairs)), make([]float64, len(c.Pairs))
	largest := 0.0
	for p := range energy {
		n := float64(w.length())
		energy[p] = sumOfSquares(c.Trace(p)[w.first:w.end], float64(a.report.Traces[p].Offset)) - n*a.variance[p]
		floor[p] = 3 * math.Sqrt(2*n) * a.variance[p]
		largest = max(largest, energy[p])
	}
	for p := range floor {
		floor[p] = max(floor[p], 1e-12*largest, math.SmallestNonzeroFloat64)
	}
	return energy, floor
}
