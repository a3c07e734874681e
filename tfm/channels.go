// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/vector"
)

// The coherence of a pixel needs sums of functions of its channels, such as Σ |s|². The kernel
// computes them as it computes the image: from traces of the function, which it interpolates
// linearly at the same delays. Two real functions fit into one complex trace.
//
// The channels are linear between two samples of their trace, so a function g of a channel is not.
// In the interval from sample k to k+1 let A be the mean of g, and c = A - (g(k) + g(k+1))/2 the
// error of the trapezoidal rule. The trace of the function is
//
//	G(k) = g(k) + (c(k-1) + c(k))/2.
//
// With it the mean over an interval is right where c changes slowly, and so is the sum over many
// channels whose delays are spread evenly between samples.

// maxPasses is the largest number of complex traces that a measure needs.
const maxPasses = 2

// passes returns the number of complex traces that c needs.
func (c Coherence) passes() int {
	switch c {
	case NoCoherence:
		return 0
	case AuxiliaryPhaseCoherence:
		return 2
	}
	return 1
}

// maxPower is the largest modulus of a sample whose power fits into a float32, with room for sums.
const maxPower = 1e15

// add adds the functions of a channel, copies times, to dst, from sample from to sample to-1.
func (c Coherence) add(dst []planes, channel planes, copies float32, from, to int) error {
	if to <= from {
		return nil
	}
	re, im := channel.re[from:to], channel.im[from:to]
	first := planes{dst[0].re[from:to], dst[0].im[from:to]}
	switch c {
	case CoherenceFactor:
		if peak := max(vector.Peak(re), vector.Peak(im)); !(peak <= maxPower) {
			return fmt.Errorf("tfm: analytic signal of modulus %.4g: want %g at most for a coherence factor", peak, float64(maxPower))
		}
		addPower(first.re, re, im, copies)
	case SignCoherence:
		addSign(first.re, re, copies)
	case VectorCoherence, CircularCoherence:
		addUnit(first, re, im, copies)
	case PhaseCoherence:
		addPhase(first, planes{}, re, im, copies)
	case AuxiliaryPhaseCoherence:
		addPhase(first, planes{dst[1].re[from:to], dst[1].im[from:to]}, re, im, copies)
	}
	return nil
}

// addPower adds |s|². Between samples |s|² is a parabola, whose error c is -|s(k+1) - s(k)|²/6.
func addPower(dst, re, im []float32, copies float32) {
	dst, im = dst[:len(re)], im[:len(re)]
	before := squaredStep(re, im, 0)
	for k, x := range re {
		after := before
		if k+1 < len(re) {
			dx, dy := re[k+1]-x, im[k+1]-im[k]
			after = dx*dx + dy*dy
		}
		dst[k] += copies * (x*x + im[k]*im[k] - (before+after)*(1./12))
		before = after
	}
}

// squaredStep returns |s(k+1) - s(k)|², and 0 for a single sample.
func squaredStep(re, im []float32, k int) float32 {
	if k+1 >= len(re) {
		return 0
	}
	dx, dy := re[k+1]-re[k], im[k+1]-im[k]
	return dx*dx + dy*dy
}

// addSign adds the sign of the real part. The error of the trapezoidal rule at a change of sign has
// either sign, and is left as it is.
func addSign(dst, re []float32, copies float32) {
	dst = dst[:len(re)]
	for k, x := range re {
		if x != 0 {
			dst[k] += math.Float32frombits(math.Float32bits(copies) | math.Float32bits(x)&(1<<31))
		}
	}
}

// addUnit adds exp(iφ). Between samples exp(iφ) goes along an arc of the angle θ, the kernel along
// its chord. The mean over the arc is the middle of the chord times tan(θ/2)/(θ/2). So c is the
// middle times d/12 + 11·d²/720, where d = |Δexp(iφ)|² = 4·sin²(θ/2), to the fourth order in θ.
func addUnit(dst planes, re, im []float32, copies float32) {
	n := len(re)
	dst.re, dst.im, im = dst.re[:n], dst.im[:n], im[:n]
	x, y := unit(re[0], im[0])
	var beforeX, beforeY float32
	for k := range re {
		nextX, nextY := x, y
		afterX, afterY := beforeX, beforeY
		if k+1 < n {
			nextX, nextY = unit(re[k+1], im[k+1])
			dx, dy := nextX-x, nextY-y
			d := dx*dx + dy*dy
			share := d * (1./24 + d*(11./1440)) // half of it, since the sum below is twice the middle
			afterX, afterY = share*(x+nextX), share*(y+nextY)
		}
		if k == 0 {
			beforeX, beforeY = afterX, afterY
		}
		dst.re[k] += copies * (x + (beforeX+afterX)/2)
		dst.im[k] += copies * (y + (beforeY+afterY)/2)
		x, y, beforeX, beforeY = nextX, nextY, afterX, afterY
	}
}

// unit returns s/|s|, and 0 for 0.
func unit(re, im float32) (x, y float32) {
	square := re*re + im*im
	if !(square >= minSquare && square <= math.MaxFloat32) {
		return unitFar(re, im)
	}
	inverse := 1 / float32(math.Sqrt(float64(square)))
	return re * inverse, im * inverse
}

// minSquare is the least float32 that has all its digits.
const minSquare = 0x1p-126

// unitFar is unit for numbers whose squares leave the range of a float32.
func unitFar(re, im float32) (x, y float32) {
	if re == 0 && im == 0 {
		return 0, 0
	}
	modulus := math.Hypot(float64(re), float64(im))
	return float32(float64(re) / modulus), float32(float64(im) / modulus)
}

// addPhase adds φ and φ² to the real and the imaginary part of first, and sign φ and |φ| to second
// if second is not empty. The errors of φ and sign φ, where they jump, are left as they are.
func addPhase(first, second planes, re, im []float32, copies float32) {
	n := len(re)
	first.re, first.im, im = first.re[:n], first.im[:n], im[:n]
	phase, none := phaseOf(re[0], im[0])
	var before arc
	for k := range re {
		next, nextNone := phase, none
		after := before
		if k+1 < n {
			next, nextNone = phaseOf(re[k+1], im[k+1])
			after = arc{}
			if !none && !nextNone {
				after = arcOf(phase, next)
			}
		}
		if k == 0 {
			before = after
		}
		square, distance, side := phase*phase, abs(phase), math.Float32frombits(math.Float32bits(phase)&(1<<31)|math.Float32bits(1))
		switch {
		case none:
			square, distance, side = math.Pi*math.Pi/3, math.Pi/2, 0
		case phase == 0:
			side = 0
		}
		first.re[k] += copies * phase
		first.im[k] += copies * (square + (before.square+after.square)/2)
		if second.re != nil {
			second.re[k] += copies * side
			second.im[k] += copies * (distance + (before.distance+after.distance)/2)
		}
		phase, none, before = next, nextNone, after
	}
}

// arc holds the errors c of φ² and |φ| between two samples.
type arc struct{ square, distance float32 }

// arcOf returns the errors where the phase goes the shorter way from a to b, by the angle θ. There
// φ² is a parabola. At 0, |φ| has a kink. At ±π both have a kink. Where the kink divides θ into α
// and β, the mean of the distance from it is (α² + β²)/(2θ), and the trapezoidal rule gives θ/2.
func arcOf(a, b float32) (e arc) {
	theta := abs(b - a)
	alpha, beta := abs(a), abs(b)
	wraps := theta > math.Pi
	if wraps {
		theta, alpha, beta = 2*math.Pi-theta, math.Pi-alpha, math.Pi-beta
	}
	e.square = -theta * theta * (1. / 6)
	if theta == 0 || a*b >= 0 {
		return e
	}
	kink := alpha * beta / theta
	if !wraps {
		e.distance = -kink
		return e
	}
	e.distance = kink
	e.square += 2 * math.Pi * kink
	return e
}

func abs(v float32) float32 { return math.Float32frombits(math.Float32bits(v) &^ (1 << 31)) }

// phaseOf returns the phase of a channel in (-π, π], to 2e-6, or none if the channel is 0.
func phaseOf(re, im float32) (phase float32, none bool) {
	x, y := abs(re), abs(im)
	low, high := min(x, y), max(x, y)
	if high == 0 {
		return 0, true
	}
	// The arc tangent of t in [0, 1]: M. Abramowitz and I. A. Stegun, Handbook of Mathematical
	// Functions (1964), 4.4.49.
	t := low / high
	s := t * t
	phase = 0.0028662257
	for _, c := range [...]float32{-0.0161657367, 0.0429096138, -0.0752896400, 0.1065626393, -0.1420889944, 0.1999355085, -0.3333314528, 1} {
		phase = phase*s + c
	}
	phase *= t
	if y > x {
		phase = math.Pi/2 - phase
	}
	if re < 0 {
		phase = math.Pi - phase
	}
	if im < 0 {
		phase = -phase
	}
	return phase, false
}
