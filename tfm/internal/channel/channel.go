// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package channel computes functions of the channels of an image, as traces that the kernels of
// delay-and-sum can sum: powers, signs, exp(iφ), phases and their squares.
//
//	channel.AddPower(dst, re, im, 1)         // dst += |s|²
//	channel.AddUnit(dstRe, dstIm, re, im, 1) // dst += exp(iφ)
//
// A kernel interpolates linearly between samples. The channels themselves are linear between two
// samples s(k) and s(k+1) of their trace, so a function g of a channel is not linear. In this
// interval let A be the mean of g, and c = A - (g(k) + g(k+1))/2 the error of the trapezoidal rule.
// The trace of the function is
//
//	G(k) = g(k) + (c(k-1) + c(k))/2.
//
// With it the mean over an interval is right where c changes slowly, and so is the sum over many
// channels whose delays are spread evenly between samples. At the ends of a trace the one interval
// counts twice. A sample of modulus below 2^-63 has no phase: it adds nothing to signs and exp(iφ),
// and its phase counts as spread evenly over the circle.
//
// # For contributors
//
// The functions run in AVX-512 instructions where the processor has them and the build does not have
// the tag purego, otherwise in plain Go. Both forms agree to 2e-6 of the largest value. The assembly
// takes the samples that have a neighbour on either side, and plain Go takes the two at the ends.
package channel

import "math"

// fast says whether assembly is used.
var fast = available

// lanes is the number of samples that the assembly takes at a time.
const lanes = 16

// minModulus is the least modulus of a sample with a phase.
const minModulus = 0x1p-63

// AddPower adds copies·|s|² to dst. All slices have the length of re. Between samples |s|² is a
// parabola, whose error c is -|s(k+1) - s(k)|²/6.
func AddPower(dst, re, im []float32, copies float32) {
	n := len(re)
	dst, im = dst[:n], im[:n]
	done := 1
	if vectors := vectorsOf(n); vectors > 0 {
		addPower(&dst[1], &re[1], &im[1], vectors, copies)
		done += vectors * lanes
	}
	if fast && done < n-1 {
		d, x, y := padded(dst, done), padded(re, done), padded(im, done)
		addPower(&d[1], &x[1], &y[1], 1, copies)
		copy(dst[done:n-1], d[1:])
		done = n - 1
	}
	powers(dst, re, im, copies, 0, min(1, n))
	powers(dst, re, im, copies, done, n)
}

// padded returns the samples of s from the one before from on, as many as there are, then zeros. So
// assembly also takes the last samples: the bits of a sample do not depend on how many follow it.
func padded(s []float32, from int) (p [lanes + 2]float32) {
	copy(p[:], s[from-1:])
	return p
}

// vectorsOf returns the number of whole vectors among n samples that have neighbours. They begin at
// sample 1.
func vectorsOf(n int) int {
	if !fast || n < 2 {
		return 0
	}
	return (n - 2) / lanes
}

// powers adds the samples from from to to-1.
func powers(dst, re, im []float32, copies float32, from, to int) {
	for k := from; k < to; k++ {
		before, after := squaredStep(re, im, k-1), squaredStep(re, im, k)
		if k == 0 {
			before = after
		}
		if k == len(re)-1 {
			after = before
		}
		dst[k] += copies * (re[k]*re[k] + im[k]*im[k] - (before+after)*(1./12))
	}
}

// squaredStep returns |s(k+1) - s(k)|², and 0 beyond the ends.
func squaredStep(re, im []float32, k int) float32 {
	if k < 0 || k+1 >= len(re) {
		return 0
	}
	dx, dy := re[k+1]-re[k], im[k+1]-im[k]
	return dx*dx + dy*dy
}

// AddSign adds copies times the sign of the real part to dst, which has the length of re. The error
// of the trapezoidal rule at a change of sign may have either sign, and is left as it is.
func AddSign(dst, re []float32, copies float32) {
	dst = dst[:len(re)]
	done := 0
	if fast && len(re) >= lanes { // exact in both forms
		done = len(re) / lanes * lanes
		addSign(&dst[0], &re[0], done/lanes, copies)
	}
	for k, x := range re[done:] {
		dst[done+k] += copies * signOf(x)
	}
}

// signOf returns -1, 0 or 1.
func signOf(v float32) float32 {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// MaxUnit is the largest modulus of the trace of exp(iφ), where the phase turns by π on both sides.
const MaxUnit = 1 + 4./12 + 16./90

// AddUnit adds copies·exp(iφ) to dstRe and dstIm. All slices have the length of re. Between samples
// exp(iφ) goes along an arc of the angle θ, the kernel along its chord. The mean modulus of the chord
// is (1 + (1 - S)/√S·artanh √S)/2 = 1 - S/3 - S²/15 - …, where S = sin²(θ/2). So exp(iφ) is raised by
// S/3 + 8·S²/45 = d/12 + d²/90, the mean for both intervals, where d = |Δexp(iφ)|² = 4·S. Channels
// that agree in phase then have the mean modulus 1.
func AddUnit(dstRe, dstIm, re, im []float32, copies float32) {
	n := len(re)
	dstRe, dstIm, im = dstRe[:n], dstIm[:n], im[:n]
	done := 1
	if vectors := vectorsOf(n); vectors > 0 {
		addUnit(&dstRe[1], &dstIm[1], &re[1], &im[1], vectors, copies)
		done += vectors * lanes
	}
	if fast && done < n-1 {
		d, e, x, y := padded(dstRe, done), padded(dstIm, done), padded(re, done), padded(im, done)
		addUnit(&d[1], &e[1], &x[1], &y[1], 1, copies)
		copy(dstRe[done:n-1], d[1:])
		copy(dstIm[done:n-1], e[1:])
		done = n - 1
	}
	units(dstRe, dstIm, re, im, copies, 0, min(1, n))
	units(dstRe, dstIm, re, im, copies, done, n)
}

// units adds the samples from from to to-1.
func units(dstRe, dstIm, re, im []float32, copies float32, from, to int) {
	var before, here, after direction
	for k := from; k < to; k++ {
		if k == from {
			here = directionAt(re, im, k)
			before = here
			if k > 0 {
				before = directionAt(re, im, k-1)
			}
		}
		after = here
		if k+1 < len(re) {
			after = directionAt(re, im, k+1)
		}
		first, second := here.shortfall(before), here.shortfall(after)
		if k == 0 {
			first = second
		}
		if k == len(re)-1 {
			second = first
		}
		share := copies * (1 + (first+second)/2)
		dstRe[k] += share * here.x
		dstIm[k] += share * here.y
		before, here = here, after
	}
}

// direction is exp(iφ), or 0.
type direction struct{ x, y float32 }

func directionAt(re, im []float32, k int) direction {
	x, y := re[k], im[k]
	square := x*x + y*y
	if !(square >= minModulus*minModulus) {
		return direction{}
	}
	inverse := 1 / float32(math.Sqrt(float64(square)))
	return direction{x * inverse, y * inverse}
}

// shortfall returns the share by which the mean modulus of the chord from d to o falls below 1.
func (d direction) shortfall(o direction) float32 {
	dx, dy := o.x-d.x, o.y-d.y
	square := dx*dx + dy*dy
	return square * (1./12 + square*(1./90))
}

// Phases writes φ in [-π, π] to dst, and 0 where a sample has no phase. All slices have the length of
// re.
func Phases(dst, re, im []float32) {
	n := len(re)
	dst, im = dst[:n], im[:n]
	done := 0
	if fast && n >= lanes {
		done = n / lanes * lanes
		phases(&dst[0], &re[0], &im[0], done/lanes)
	}
	if fast && done < n {
		var d, x, y [lanes]float32
		copy(x[:], re[done:])
		copy(y[:], im[done:])
		phases(&d[0], &x[0], &y[0], 1)
		copy(dst[done:], d[:])
		return
	}
	for k := done; k < n; k++ {
		dst[k] = phaseOf(re[k], im[k])
	}
}

// arcTangent holds the coefficients of the arc tangent on [0, 1], for the powers 17, 15, … 1, to 2e-8:
// M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964), 4.4.49.
var arcTangent = [...]float32{
	0.0028662257, -0.0161657367, 0.0429096138, -0.0752896400, 0.1065626393, -0.1420889944, 0.1999355085, -0.3333314528, 1,
}

func phaseOf(re, im float32) float32 {
	x, y := abs(re), abs(im)
	low, high := min(x, y), max(x, y)
	if !(high >= minModulus) {
		return 0
	}
	t := low / high
	square := t * t
	phase := arcTangent[0]
	for _, c := range arcTangent[1:] {
		phase = phase*square + c
	}
	phase *= t
	if y > x {
		phase = math.Pi/2 - phase
	}
	if re < 0 {
		phase = math.Pi - phase
	}
	return math.Float32frombits(math.Float32bits(phase) | math.Float32bits(im)&(1<<31))
}

func abs(v float32) float32 { return math.Float32frombits(math.Float32bits(v) &^ (1 << 31)) }

// Moments are the sums of functions of phases: φ and φ², and for the auxiliary phase sign φ and |φ|.
// Sign and Distance may be nil.
type Moments struct{ Phase, Square, Sign, Distance []float32 }

// AddMoments adds copies times the functions of phase, the [Phases] of re and im, to m. All slices
// have the length of phase. The phase goes the shorter way from one sample to the next, by the angle
// θ. There φ² is a parabola. At 0, |φ| has a kink, and at ±π both have a kink. Where the kink divides
// θ into α and β, the mean of the distance from it is (α² + β²)/(2θ), and the trapezoidal rule gives
// θ/2. The errors of φ and of its sign, where they jump, are left as they are.
func AddMoments(m Moments, phase, re, im []float32, copies float32) {
	n := len(phase)
	re, im = re[:n], im[:n]
	m.Phase, m.Square = m.Phase[:n], m.Square[:n]
	if m.Sign != nil {
		m.Sign, m.Distance = m.Sign[:n], m.Distance[:n]
	}
	done := 1
	if vectors := vectorsOf(n); vectors > 0 {
		m.assembly(1, phase, re, im, vectors, copies)
		done += vectors * lanes
	}
	if fast && done < n-1 {
		m.tail(done, phase, re, im, copies)
		done = n - 1
	}
	m.add(phase, re, im, copies, 0, min(1, n))
	m.add(phase, re, im, copies, done, n)
}

// assembly adds whole vectors from sample from on.
func (m Moments) assembly(from int, phase, re, im []float32, vectors int, copies float32) {
	var signs, distances *float32
	if m.Sign != nil {
		signs, distances = &m.Sign[from], &m.Distance[from]
	}
	addMoments(&m.Phase[from], &m.Square[from], signs, distances, &phase[from], &re[from], &im[from], vectors, copies)
}

// tail adds the samples from from on, except the last.
func (m Moments) tail(from int, phase, re, im []float32, copies float32) {
	p, x, y := padded(phase, from), padded(re, from), padded(im, from)
	first, second := padded(m.Phase, from), padded(m.Square, from)
	pad := Moments{Phase: first[:], Square: second[:]}
	var third, fourth [lanes + 2]float32
	if m.Sign != nil {
		third, fourth = padded(m.Sign, from), padded(m.Distance, from)
		pad.Sign, pad.Distance = third[:], fourth[:]
	}
	pad.assembly(1, p[:], x[:], y[:], 1, copies)
	last := len(phase) - 1
	copy(m.Phase[from:last], first[1:])
	copy(m.Square[from:last], second[1:])
	if m.Sign != nil {
		copy(m.Sign[from:last], third[1:])
		copy(m.Distance[from:last], fourth[1:])
	}
}

// add adds the samples from from to to-1.
func (m Moments) add(phase, re, im []float32, copies float32, from, to int) {
	for k := from; k < to; k++ {
		here := phase[k]
		var before, after arc
		if k > 0 {
			before = arcOf(phase[k-1], here)
		}
		if k+1 < len(phase) {
			after = arcOf(here, phase[k+1])
		}
		if k == 0 {
			before = after
		}
		if k == len(phase)-1 {
			after = before
		}
		square, distance := here*here, abs(here)
		if !(max(abs(re[k]), abs(im[k])) >= minModulus) {
			square, distance = math.Pi*math.Pi/3, math.Pi/2
		}
		m.Phase[k] += copies * here
		m.Square[k] += copies * (square + (before.square+after.square)/2)
		if m.Sign != nil {
			m.Sign[k] += copies * signOf(here)
			m.Distance[k] += copies * (distance + (before.distance+after.distance)/2)
		}
	}
}

// arc holds the errors c of φ² and |φ| between two samples.
type arc struct{ square, distance float32 }

func arcOf(a, b float32) (e arc) {
	theta, alpha, beta := abs(b-a), abs(a), abs(b)
	wraps := theta > math.Pi
	if wraps {
		theta, alpha, beta = 2*math.Pi-theta, math.Pi-alpha, math.Pi-beta
	}
	e.square = -theta * theta * (1. / 6)
	if !(a*b < 0) || theta == 0 {
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
