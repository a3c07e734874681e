// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"
	"slices"
)

// An Arrival is a wave whose energy goes in a wanted direction.
type Arrival struct {
	Phase float64 // direction of its wave normal, rad from the grain axis
	Speed float64 // group speed, m/s
}

// scan is the number of phase directions in which a full turn is searched for
// arrivals; pairs about to merge are sought on a finer mesh.
const scan = 720

// Arrivals returns all waves of a mode whose energy goes in the direction (rad
// from the grain axis, finite), the fastest first: one, or on a qSV curve with
// dents several. Two that are about to merge, their phase directions less than
// 0.03° apart, may be missed. It panics on a mode that is none.
func (c *Crystal) Arrivals(mode Mode, direction float64) []Arrival {
	var out []Arrival
	misfit := func(chi float64) float64 {
		_, at := c.Group(mode, chi)
		return math.Sin(at - direction)
	}
	for _, chi := range roots(misfit, direction-math.Pi/2, direction+math.Pi/2, scan/2) {
		speed, at := c.Group(mode, chi)
		if math.Cos(at-direction) > 0 {
			out = append(out, Arrival{chi, speed})
		}
	}
	slices.SortStableFunc(out, func(a, b Arrival) int {
		return compareFloat(b.Speed, a.Speed)
	})
	return out
}

// compareFloat orders a before b if it is less.
func compareFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// roots returns the arguments between low and high at which f changes sign,
// found on n intervals. Where |f| has a dip between samples of one sign, it looks
// again 16 times finer. Where f is NaN from some argument on, it looks up to there.
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
			zeros = append(zeros, bisect(f, at(i-1), at(i), last))
		case beforeLast*last > 0 && last*next > 0 && math.Abs(last) < math.Abs(beforeLast) && math.Abs(last) <= math.Abs(next):
			dips = append(dips, at(i-1))
		}
		beforeLast, last = last, next
	}
	return zeros, dips
}

// edgeRoot returns the root, if there is one, between the end of an interval where
// f is a number and the place where it ceases to be one.
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
	return []float64{bisect(f, start, valid, value)}
}

// bisect returns the root of f between a, where it has the value fa, and b, to
// the rounding. It converges as regula falsi with the Illinois rule, kept inside
// the bracket.
func bisect(f func(float64) float64, a, b, fa float64) float64 {
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
