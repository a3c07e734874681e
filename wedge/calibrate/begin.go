// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"
)

// candidate is an arrival that may be the echo of the face.
type candidate struct {
	time  float64 // s, without the offset
	share float64 // amplitude as a share of the strongest arrival of its pair, 0 to 1
}

const (
	// seeds is the number of elements, spread over the array, whose pulse-echo arrivals give the
	// faces that are tried.
	seeds = 12
	// alternatives is the number of arrivals of each of these elements that are tried: the
	// strongest arrivals.
	alternatives = 6
	// spare is the number of elements beyond the unknowns of an inclined face. With fewer, the
	// stated interval of 95 % holds the angle in 66 to 89 % of random set-ups.
	spare = 2
	// trials is the largest number of arrivals from which speeds are tried.
	trials = 300
)

// begin finds the face with which most of the arrivals agree.
func (f *faceFit) begin() error {
	f.share()
	own := make([][]candidate, len(f.elements)) // the pulse-echo arrivals of each element
	var with []int                              // elements that have any
	for k, a := range f.arrivals {
		if a.Transmit != a.Receive || !(f.time(k) > 0) {
			continue
		}
		if len(own[a.Transmit]) == 0 {
			with = append(with, a.Transmit)
		}
		own[a.Transmit] = append(own[a.Transmit], candidate{f.time(k), f.shares[k]})
	}
	for _, candidates := range own {
		slices.SortStableFunc(candidates, func(a, b candidate) int { return cmp.Compare(b.share, a.share) })
	}
	want := 1
	if len(f.slopes) > 0 {
		want += len(f.slopes) + spare
	}
	if len(with) < want {
		return fmt.Errorf("calibrate: %w: %d elements have pulse-echo arrivals, want at least %d: fewer do not show how far the times scatter",
			ErrUndetermined, len(with), want)
	}
	best := f.vote(own, with)
	if err := f.checkBent(best, own, with); err != nil {
		return err
	}
	// A line that only some of the elements see is more likely to be chance.
	if agree := f.agreeing(best, own, with); 2*agree < len(with) {
		return fmt.Errorf("calibrate: %w: of %d elements with pulse-echo arrivals only %d agree on a flat face, want at least half",
			ErrUndetermined, len(with), agree)
	}
	return f.start(best)
}

// share sets the share of each arrival: its amplitude divided by the amplitude of the strongest
// arrival of the pair.
func (f *faceFit) share() {
	strongest := make(map[[2]int]float64)
	for _, a := range f.arrivals {
		pair := [2]int{a.Transmit, a.Receive}
		strongest[pair] = max(strongest[pair], a.Amplitude)
	}
	f.shares = make([]float64, len(f.arrivals))
	for k, a := range f.arrivals {
		f.shares[k] = 1
		if top := strongest[[2]int{a.Transmit, a.Receive}]; top > 0 {
			f.shares[k] = a.Amplitude / top
		}
	}
}

// vote tries the faces that follow from the pulse-echo arrivals of a few elements at a time. It
// returns the face with the greatest sum of shares, as the coefficients of the pulse-echo time.
// The coefficients are zero if no face is in front of the array.
func (f *faceFit) vote(own [][]candidate, with []int) (best [faceParameters]float64) {
	some := spread(with, seeds)
	most := 0.0
	unknowns := len(f.slopes) + 1
	chosen, times := make([]int, unknowns), make([]float64, unknowns)
	var choose func(at, first int)
	choose = func(at, first int) {
		if at == unknowns {
			if face, ok := f.through(chosen, times); ok {
				if score := f.score(face, own, with); score > most {
					best, most = face, score
				}
			}
			return
		}
		for i := first; i < len(some); i++ {
			chosen[at] = some[i]
			for _, c := range own[some[i]][:min(alternatives, len(own[some[i]]))] {
				times[at] = c.time
				choose(at+1, i+1)
			}
		}
	}
	choose(0, 0)
	return best
}

// spread returns up to n of the elements, spread over the array.
func spread(elements []int, n int) []int {
	n = min(n, len(elements))
	some := make([]int, 0, n)
	for i := range n {
		some = append(some, elements[i*(len(elements)-1)/max(1, n-1)])
	}
	return some
}

// through returns the face for which the elements have the given pulse-echo times.
func (f *faceFit) through(elements []int, times []float64) (face [faceParameters]float64, ok bool) {
	n := len(elements)
	a, b := mat.NewDense(n, n, nil), mat.NewVecDense(n, times)
	for i, e := range elements {
		a.Set(i, 0, 1)
		for j, slope := range f.slopes {
			a.Set(i, j+1, f.shape(slope, e))
		}
	}
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		return face, false // the elements lie on one line
	}
	face[distanceParameter] = x.AtVec(0)
	for j, slope := range f.slopes {
		face[slope] = x.AtVec(j + 1)
	}
	return face, true
}

// score returns the sum of the shares of the arrivals that agree with a face. It returns 0 for a
// face that is not in front of the whole array.
func (f *faceFit) score(face [faceParameters]float64, own [][]candidate, with []int) float64 {
	sum := 0.0
	for _, e := range with {
		want := f.pulseEcho(face, e)
		if !(want > 0) {
			return 0
		}
		sum += f.bestShare(own[e], want)
	}
	return sum
}

// agreeing returns how many elements have an arrival that agrees with a face.
func (f *faceFit) agreeing(face [faceParameters]float64, own [][]candidate, with []int) int {
	n := 0
	for _, e := range with {
		if f.bestShare(own[e], f.pulseEcho(face, e)) > 0 {
			n++
		}
	}
	return n
}

// bestShare returns the greatest share of the arrivals at the wanted time.
func (f *faceFit) bestShare(candidates []candidate, want float64) (share float64) {
	for _, c := range candidates {
		if math.Abs(c.time-want) <= f.o.Tolerance {
			share = max(share, c.share)
		}
	}
	return share
}

// pulseEcho returns the pulse-echo time of an element from a face, in s.
func (f *faceFit) pulseEcho(face [faceParameters]float64, element int) (time float64) {
	for k, v := range face {
		time += v * f.shape(k, element)
	}
	return time
}

// start sets the parameters from the pulse-echo times of a face, 2h/c.
func (f *faceFit) start(face [faceParameters]float64) error {
	speed := f.o.Speed.Value
	switch {
	case speed > 0:
	case f.o.Distance.Value > 0:
		speed = 2 * f.o.Distance.Value / face[distanceParameter]
	default:
		slowness, ok := f.voteSlowness(face)
		if !ok {
			return fmt.Errorf("calibrate: %w: no arrivals between different elements from which to find the speed",
				ErrUndetermined)
		}
		speed = 1 / slowness
	}
	for k, v := range face {
		f.params[k] = v * speed / 2
	}
	if f.o.Distance.Value > 0 {
		f.params[distanceParameter] = f.o.Distance.Value
	}
	f.params[speedParameter] = speed
	return nil
}

// voteSlowness returns the slowness with which most arrivals between different elements agree,
// given the pulse-echo times tᵢ of the face. The square of the time between two elements is
// (Δ·slowness)² + tᵢ·tⱼ.
func (f *faceFit) voteSlowness(face [faceParameters]float64) (slowness float64, ok bool) {
	type pair struct{ time, apart, product, share float64 }
	var pairs []pair
	for k, a := range f.arrivals {
		if a.Transmit == a.Receive || !(f.time(k) > 0) {
			continue
		}
		apart := r3.Norm(r3.Sub(f.elements[a.Transmit], f.elements[a.Receive]))
		pairs = append(pairs, pair{f.time(k), apart, f.pulseEcho(face, a.Transmit) * f.pulseEcho(face, a.Receive), f.shares[k]})
	}
	limit := math.Tan(f.o.MaxIncidence)
	most := 0.0
	for i := 0; i < len(pairs); i += 1 + len(pairs)/trials {
		p := pairs[i]
		trial := math.Sqrt(p.time*p.time-p.product) / p.apart
		if !(trial > 0 && trial*p.apart <= limit*math.Sqrt(p.product)) {
			continue
		}
		score := 0.0
		for _, q := range pairs {
			across := trial * q.apart
			if across <= limit*math.Sqrt(q.product) && math.Abs(math.Sqrt(across*across+q.product)-q.time) <= f.o.Tolerance {
				score += q.share
			}
		}
		if score > most {
			most, slowness, ok = score, trial, true
		}
	}
	return slowness, ok
}
