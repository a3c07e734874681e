// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// aperture is the part of an array that sends in an event: cols × rows elements.
type aperture struct {
	elements        []int     // their numbers
	delays, weights []float64 // of each of them; the weights are magnitudes
	cols, rows      int
	together        float64 // s; arrivals within it add up, wherever they come from
}

func newAperture(array fmc.Array, event fmc.Event) (*aperture, error) {
	a := &aperture{together: 0.5 / array.CentreFrequency}
	var places []r3.Vec
	sign := 0.0
	for e, w := range event.Weights {
		if w == 0 {
			continue
		}
		if w*sign < 0 {
			return nil, errors.New("tfm: weights of both signs make no wavefront: want the capture decoded")
		}
		sign = math.Copysign(1, w)
		a.elements = append(a.elements, e)
		a.delays = append(a.delays, event.Delays[e])
		a.weights = append(a.weights, math.Abs(w))
		places = append(places, array.Elements[e])
	}
	a.cols = latticeCols(places)
	a.rows = len(places) / a.cols
	if a.rows == 1 && !alongLine(places) {
		return nil, fmt.Errorf("tfm: %d elements that send, neither along a line nor on a lattice: want the capture decoded", len(places))
	}
	return a, nil
}

// latticeCols returns the number of places in a row of the lattice that the places form. It
// returns len(places) if the places do not form a lattice.
func latticeCols(places []r3.Vec) int {
	n := len(places)
	cols := 1
	for cols < n && sameStep(places, cols, cols-1, 1) {
		cols++
	}
	if n%cols != 0 {
		return n
	}
	for i := cols; i < n; i++ {
		if !sameStep(places, i, i-cols, cols) {
			return n
		}
	}
	return cols
}

// sameStep reports whether the step from place j to place i equals the step from place 0 to place
// first, to a millionth.
func sameStep(places []r3.Vec, i, j, first int) bool {
	step := r3.Sub(places[first], places[0])
	return r3.Norm(r3.Sub(r3.Sub(places[i], places[j]), step)) <= 1e-6*r3.Norm(step)
}

// alongLine reports whether places follow each other along a line, straight or bent by
// less than 60° from one step to the next, at distances within a factor of two.
func alongLine(places []r3.Vec) bool {
	for i := 2; i < len(places); i++ {
		a, b := r3.Sub(places[i-1], places[i-2]), r3.Sub(places[i], places[i-1])
		la, lb := r3.Norm(a), r3.Norm(b)
		if !(r3.Dot(a, b) > la*lb/2 && la <= 2*lb && lb <= 2*la) {
			return false
		}
	}
	return true
}

// time returns when the wave of the event arrives, given when the wave of each element arrives. It
// is NaN if the event has no wave there.
func (a *aperture) time(arrivals []float64) float64 {
	first, last := -1, -1
	earliest, latest := math.Inf(1), math.Inf(-1)
	for i, t := range arrivals { // NaN is neither less nor greater
		if t < earliest {
			first, earliest = i, t
		}
		if t > latest {
			last, latest = i, t
		}
	}
	if first < 0 || last < 0 {
		return math.NaN()
	}
	if latest-earliest <= a.together {
		return a.mean(arrivals)
	}
	if t := a.stationary(arrivals, first, 1); !math.IsNaN(t) {
		return t
	}
	return a.stationary(arrivals, last, -1)
}

// mean returns the weighted mean of the arrivals that are not NaN.
func (a *aperture) mean(arrivals []float64) float64 {
	sum, weight := 0.0, 0.0
	for i, t := range arrivals {
		if !math.IsNaN(t) {
			sum += a.weights[i] * t
			weight += a.weights[i]
		}
	}
	return sum / weight
}

// stationary returns the stationary value of the arrivals near the extreme arrival: a minimum for
// sign = 1, a maximum for sign = -1. It is NaN if the aperture has no stationary value there.
func (a *aperture) stationary(arrivals []float64, extreme int, sign float64) float64 {
	col, row := inside(extreme%a.cols, a.cols), inside(extreme/a.cols, a.rows)
	at := func(dc, dr int) float64 { return sign * arrivals[(row+dr)*a.cols+col+dc] }
	here := at(0, 0)
	wide, high := a.cols > 2, a.rows > 2
	var gc, gr, cc, rr, cr float64 // derivatives along columns and rows
	if wide {
		gc, cc = (at(1, 0)-at(-1, 0))/2, at(1, 0)-2*here+at(-1, 0)
	}
	if high {
		gr, rr = (at(0, 1)-at(0, -1))/2, at(0, 1)-2*here+at(0, -1)
	}
	if wide && high {
		cr = (at(1, 1) - at(-1, 1) - at(1, -1) + at(-1, -1)) / 4
	}
	var shiftCol, shiftRow float64
	switch determinant := cc*rr - cr*cr; {
	case wide && high && cc > 0 && determinant > 0:
		shiftCol, shiftRow = (cr*gr-rr*gc)/determinant, (cr*gc-cc*gr)/determinant
	case wide && !high && cc > 0:
		shiftCol = -gc / cc
	case high && !wide && rr > 0:
		shiftRow = -gr / rr
	default:
		return math.NaN()
	}
	if !reaches(col, shiftCol, a.cols) || !reaches(row, shiftRow, a.rows) {
		return math.NaN()
	}
	return sign * (here + (gc*shiftCol+gr*shiftRow)/2)
}

// inside returns the index nearest to i that has neighbours on both sides, among n indices. It
// returns i if n is below 3.
func inside(i, n int) int {
	if n < 3 {
		return i
	}
	return min(max(i, 1), n-2)
}

// reaches reports whether a place that is shifted from element i lies in the aperture of n
// elements, and within the elements of the fit.
func reaches(i int, shift float64, n int) bool {
	place := float64(i) + shift
	return place >= -0.5 && place <= float64(n)-0.5 && math.Abs(shift) <= 1.5
}
