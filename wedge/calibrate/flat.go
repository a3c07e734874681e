// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// ErrNotFlat is wrapped by the errors of [Face] which say that the echoes do not come from a flat
// face.
var ErrNotFlat = errors.New("the face is not flat")

const (
	// falseAlarm is the probability that the delays of the elements alone look like a bent face.
	falseAlarm = 1e-3
	// harmlessBend is the bend, rms over the array, that is no reason to refuse, as a share of the
	// tolerance.
	harmlessBend = 0.1
	// bendDegree is the highest degree of the polynomials along the array that make up a bend.
	bendDegree = 5
	// mostCondition is the largest condition of the polynomials: fewer than bendDegree+1 distinct
	// places do not determine them.
	mostCondition = 1e8
	// bentGain is the share of the elements, and leastGain their number, that a bent face must
	// explain beyond a flat one.
	bentGain, leastGain = 1.0 / 8, 3
	// bentSeeds and bentAlternatives limit the bent faces that are tried.
	bentSeeds, bentAlternatives = 9, 4
)

// checkBent reports a face whose bend leaves the tolerance: a parabola along the array agrees with
// clearly more pulse-echo arrivals than the flat face. For an array with several rows, and for a
// Parallel face, there is only [faceFit.checkFlat].
func (f *faceFit) checkBent(flat [faceParameters]float64, own [][]candidate, with []int) error {
	if len(f.slopes) != 1 {
		return nil
	}
	some := spread(with, bentSeeds)
	agree := f.score(flat, own, with)
	most := 0.0
	for i, a := range some {
		for j, b := range some[:i] {
			for _, c := range some[:j] {
				for _, first := range strongest(own[a]) {
					for _, second := range strongest(own[b]) {
						for _, third := range strongest(own[c]) {
							times := [...]float64{first.time, second.time, third.time}
							most = max(most, f.scoreBent([...]int{a, b, c}, times, own, with))
						}
					}
				}
			}
		}
	}
	limit := max(leastGain, bentGain*float64(len(with)))
	if !(most-agree < limit) {
		return fmt.Errorf("calibrate: %w: the pulse-echo arrivals of %d elements agree on a bent face with %.1f elements and on a flat one with %.1f, want a difference below %.1f; a record without the echo of the face looks alike",
			ErrNotFlat, len(with), most, agree, limit)
	}
	return nil
}

// strongest returns the strongest of the sorted arrivals of an element.
func strongest(own []candidate) []candidate { return own[:min(bentAlternatives, len(own))] }

// scoreBent returns the sum of the shares of the arrivals on the parabola through the times of
// three elements.
func (f *faceFit) scoreBent(elements [3]int, times [3]float64, own [][]candidate, with []int) (sum float64) {
	x0, x1, x2 := f.along(elements[0]), f.along(elements[1]), f.along(elements[2])
	if x0 == x1 || x1 == x2 || x0 == x2 {
		return 0
	}
	// Newton's form of the parabola.
	first := (times[1] - times[0]) / (x1 - x0)
	second := ((times[2]-times[1])/(x2-x1) - first) / (x2 - x0)
	for _, e := range with {
		want := times[0] + (f.along(e)-x0)*(first+second*(f.along(e)-x1))
		sum += f.bestShare(own[e], want)
	}
	return sum
}

// along returns the coordinate of an element along the array.
func (f *faceFit) along(element int) float64 {
	if len(f.slopes) > 0 {
		return f.shape(f.slopes[0], element)
	}
	return f.elements[element].X
}

// checkPairs reports a face with which too few pairs agree: the arrivals near it are chance then.
func (f *faceFit) checkPairs() error {
	offered := make(map[[2]int]bool)
	for k, a := range f.arrivals {
		if a.Transmit != a.Receive && f.echo(k).sine <= f.sine {
			offered[[2]int{a.Transmit, a.Receive}] = true
		}
	}
	agree := 0
	for _, k := range f.selected {
		if a := f.arrivals[k]; a.Transmit != a.Receive {
			agree++
		}
	}
	if 2*agree < len(offered) {
		return fmt.Errorf("calibrate: %w: of %d pairs of elements up to an incidence of %.0f° only %d agree on a flat face, want at least half",
			ErrUndetermined, len(offered), f.o.MaxIncidence*180/math.Pi, agree)
	}
	return nil
}

// checkFlat reports a face whose bend stays within the tolerance. The pulse-echo residuals are
// split into polynomials of low degree along the array and the rest. For elements with independent
// delays the ratio of both mean squares has an F distribution. A small bend is harmless. The slope
// of a face that is taken for Parallel counts as a bend.
func (f *faceFit) checkFlat() error {
	var at, residuals []float64
	for _, k := range f.selected {
		if a := f.arrivals[k]; a.Transmit == a.Receive {
			at = append(at, f.along(a.Transmit))
			residuals = append(residuals, f.residuals[k])
		}
	}
	least := 2
	if f.o.Facing == Parallel {
		least = 1
	}
	bends := bendDegree + 1 - least
	rest := len(at) - bendDegree - 1
	if rest < bends {
		return nil // too few elements to tell a bend from their delays
	}
	bent, other, ok := bendOf(at, residuals, least)
	if !ok {
		return nil // a row of elements across the array
	}
	limit := distuv.F{D1: float64(bends), D2: float64(rest)}.Quantile(1 - falseAlarm)
	noise := limit * float64(bends) * other / float64(rest) / float64(len(at))
	size, most := math.Sqrt(bent/float64(len(at))), math.Hypot(math.Sqrt(noise), harmlessBend*f.o.Tolerance)
	if !(size <= most) {
		return fmt.Errorf("calibrate: %w: its echoes bend by %.1f ns rms over the array, want at most %.1f ns",
			ErrNotFlat, size*1e9, most*1e9)
	}
	return nil
}

// bendOf splits the sum of the squared values at the given places into the part of polynomials from
// the least degree to bendDegree and the part above. It reports whether the places are distinct
// enough.
func bendOf(at, values []float64, least int) (bent, above float64, ok bool) {
	low, high := at[0], at[0]
	for _, x := range at {
		low, high = min(low, x), max(high, x)
	}
	if low == high {
		return 0, 0, false
	}
	powers := mat.NewDense(len(at), bendDegree+1, nil)
	for i, x := range at {
		for p := range bendDegree + 1 {
			powers.Set(i, p, math.Pow(2*(x-low)/(high-low)-1, float64(p)))
		}
	}
	var qr mat.QR
	qr.Factorize(powers)
	if qr.Cond() > mostCondition {
		return 0, 0, false
	}
	var q mat.Dense
	qr.QTo(&q)
	var parts mat.VecDense
	parts.MulVec(q.T(), mat.NewVecDense(len(values), values))
	for p := least; p < len(at); p++ {
		square := parts.AtVec(p) * parts.AtVec(p)
		if p <= bendDegree {
			bent += square
		} else {
			above += square
		}
	}
	return bent, above, true
}
