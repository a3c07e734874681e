// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"cmp"
	"math"
	"slices"
)

// arrival is a wave whose energy travels in a given direction.
type arrival struct {
	Phase float64 // direction of its wave normal, rad from the grain axis
	Speed float64 // group speed, m/s
}

// scan is the number of phase directions per full turn at which arrivals are searched. A pair of
// close arrivals is searched on a finer mesh.
const scan = 720

// arrivals returns all waves whose energy travels in the direction (rad from the grain axis,
// finite), the fastest first. A qSV curve with dents may have several. Two waves whose phase
// directions are less than 0.03° apart may be missed.
func (c *SlownessCurves) arrivals(pol Polarisation, direction float64) []arrival {
	var out []arrival
	misfit := func(chi float64) float64 {
		_, at := c.group(pol, chi)
		return math.Sin(at - direction)
	}
	for _, chi := range roots(misfit, direction-math.Pi/2, direction+math.Pi/2, scan/2) {
		speed, at := c.group(pol, chi)
		if math.Cos(at-direction) > 0 {
			out = append(out, arrival{chi, speed})
		}
	}
	slices.SortStableFunc(out, func(a, b arrival) int {
		return cmp.Compare(b.Speed, a.Speed)
	})
	return out
}

// roots returns the arguments between low and high at which f changes sign. It searches n
// intervals. Where |f| has a dip between samples of one sign, it searches again, 16 times finer. If
// f is NaN in a part of an interval, it searches the rest of the interval.
func roots(f func(float64) float64, low, high float64, n int) []float64 {
	out, dips := signChanges(f, low, high, n)
	step := (high - low) / float64(n)
	for _, at := range dips {
		more, _ := signChanges(f, at-step, at+step, 32)
		out = append(out, more...)
	}
	return out
}

// signChanges returns the roots, and the samples where |f| dips without one.
func signChanges(f func(float64) float64, low, high float64, n int) (zeros, dips []float64) {
	at := func(i int) float64 { return low + (high-low)*float64(i)/float64(n) }
	beforeLast, last := math.NaN(), f(low)
	for i := 1; i <= n; i++ {
		next := f(at(i))
		switch {
		case next == 0 && i < n:
			zeros = append(zeros, at(i))
		case math.IsNaN(last) != math.IsNaN(next):
			zeros = append(zeros, edgeRoot(f, at(i-1), at(i), last, next)...)
		case last*next < 0:
			zeros = append(zeros, rootOf(f, at(i-1), at(i), last))
		case beforeLast*last > 0 && last*next > 0 && math.Abs(last) < math.Abs(beforeLast) &&
			math.Abs(last) <= math.Abs(next):
			dips = append(dips, at(i-1))
		}
		beforeLast, last = last, next
	}
	return zeros, dips
}

// edgeRoot returns the root, if there is one, between the end of an interval where f is a number
// and the place where f becomes NaN.
func edgeRoot(f func(float64) float64, a, b, fa, fb float64) []float64 {
	valid, value, invalid := a, fa, b
	if math.IsNaN(fa) {
		valid, value, invalid = b, fb, a
	}
	start := valid
	for range 60 {
		if m := (valid + invalid) / 2; math.IsNaN(f(m)) {
			invalid = m
		} else {
			valid = m
		}
	}
	if !(value*f(valid) < 0) {
		return nil
	}
	return []float64{rootOf(f, start, valid, value)}
}

// rootOf returns the root of f between a and b, to rounding. f has the value fa at a. The method is
// regula falsi with the Illinois rule, kept inside the bracket.
func rootOf(f func(float64) float64, a, b, fa float64) float64 {
	fb := f(b)
	for range 200 {
		if fb == fa {
			break
		}
		m := b - fb*(b-a)/(fb-fa)
		if !(m > min(a, b) && m < max(a, b)) {
			m = a + (b-a)/2
		}
		fm := f(m)
		if fm == 0 || math.IsNaN(fm) || math.Abs(b-a) <= 1e-15*(1+math.Abs(m)) {
			return m
		}
		if fm*fb < 0 {
			a, fa = b, fb
		} else {
			fa /= 2
		}
		if math.Abs(m-b) <= 1e-16*(1+math.Abs(m)) {
			return m
		}
		b, fb = m, fm
	}
	return b
}
