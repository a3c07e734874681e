// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"
)

// Peak is the peak of a [Spot] in the section. It says how far the peak moves if the times or the
// samples are in error. It is immutable and safe for concurrent use.
type Peak struct {
	// Offset is the position of the peak relative to the reflector, in m: the phases of the
	// amplitudes can move it. Its y is 0.
	Offset r3.Vec

	terms         []peakTerm
	value         complex128    // I
	slope         [2]complex128 // derivatives of I over x and z, 1/m
	inverse       [3]float64    // inverse of the second derivatives of |I|²: xx, xz, zz
	carrier, band float64       // mean and standard deviation of the spectrum of the noise, rad/s
}

// peakTerm is what a pair, or both directions of a pair, add to the peak.
type peakTerm struct {
	*term
	first, second complex128 // first and second derivative of the echo over time
}

// Peak returns the peak of the spot, the maximum of [Spot.Amplitude] nearest to the reflector in
// the section. A spot without a maximum there is an error, such as the spot of one pair.
func (s *Spot) Peak() (*Peak, error) {
	p := &Peak{terms: make([]peakTerm, len(s.terms))}
	lossXX, lossXZ, lossZZ := s.form()
	carrier, width := s.pulse.filter.moments()
	p.carrier, p.band = math.Sqrt(2*carrier), math.Sqrt(width)
	const attempts = 30
	const endless = 1e-6 // xx·zz - xz² over xx·zz. A ridge 100 times as long as wide has 4e-4 or more
	for range attempts {
		gx, gz, xx, xz, zz := p.expand(s)
		det := xx*zz - xz*xz
		maximum := xx < 0 && det > endless*xx*zz
		if maximum {
			p.inverse = [3]float64{zz / det, -xz / det, xx / det}
		} else { // not yet near the maximum
			power := -4 * real(p.value*cmplx.Conj(p.value))
			det := power * (lossXX*lossZZ - lossXZ*lossXZ)
			p.inverse = [3]float64{lossZZ / det, -lossXZ / det, lossXX / det}
		}
		step := r3.Vec{X: -p.inverse[0]*gx - p.inverse[1]*gz, Z: -p.inverse[1]*gx - p.inverse[2]*gz}
		length := r3.Norm(step)
		if maximum && length <= 1e-7*s.Wavelength {
			return p, nil
		}
		p.Offset = r3.Add(p.Offset, r3.Scale(min(1, s.Wavelength/4/length), step))
	}
	return nil, fmt.Errorf("quality: point spread at %v m has no peak", s.At)
}

// expand computes the terms and the sum at the offset of p. It returns the first and the second
// derivatives of |I|².
func (p *Peak) expand(s *Spot) (gx, gz, xx, xz, zz float64) {
	p.value, p.slope = 0, [2]complex128{}
	var curve [3]complex128
	for i := range s.terms {
		t := &s.terms[i]
		v, first, second := s.pulse.expand(r3.Dot(t.slope, p.Offset))
		first, second = t.weight*first, t.weight*second
		p.terms[i] = peakTerm{t, first, second}
		x, z := complex(t.slope.X, 0), complex(t.slope.Z, 0)
		p.value += t.weight * v
		p.slope[0] += x * first
		p.slope[1] += z * first
		curve[0] += x * x * second
		curve[1] += x * z * second
		curve[2] += z * z * second
	}
	a, b := p.slope[0], p.slope[1]
	return p.along(a, 0), p.along(b, 0), p.along(curve[0], a*cmplx.Conj(a)), p.along(curve[1], a*cmplx.Conj(b)), p.along(curve[2], b*cmplx.Conj(b))
}

// along returns 2·Re(derivative·conj(I) + product).
func (p *Peak) along(derivative, product complex128) float64 {
	return 2 * real(derivative*cmplx.Conj(p.value)+product)
}

// Shift returns how far the peak moves, in m in the section (its y is 0), if the echo of each pair
// arrives later than the times of the image assume. The argument late returns this delay in s for
// a transmitter and a receiver, which are numbers of an [fmc.Pair]. Where one echo in the view
// stands for both directions of a pair, the mean of both delays counts.
//
// The shift δ keeps the gradient of |I|² at zero:
//
//	H·δ = Σ 2·Re(∂/∂t_ij ∇|I|²)·late(i, j)
//
// with the second derivatives H of |I|² at the peak and the times t of the echoes. So the shift is
// linear in the delays. It holds for delays that differ by less than about a quarter of a period
// among the pairs. Larger differences defocus the spot.
func (p *Peak) Shift(late func(tx, rx int) float64) r3.Vec {
	var change complex128 // of I
	var slope [2]complex128
	for i := range p.terms {
		t := &p.terms[i]
		delay := late(t.tx, t.rx)
		if t.both {
			delay = (delay + late(t.rx, t.tx)) / 2
		}
		change += complex(delay, 0) * t.first
		slope[0] += complex(delay*t.term.slope.X, 0) * t.second
		slope[1] += complex(delay*t.term.slope.Z, 0) * t.second
	}
	gx := p.along(slope[0], p.slope[0]*cmplx.Conj(change))
	gz := p.along(slope[1], p.slope[1]*cmplx.Conj(change))
	return r3.Vec{X: p.inverse[0]*gx + p.inverse[1]*gz, Z: p.inverse[1]*gx + p.inverse[2]*gz}
}

// Scatter returns the covariance of the place of the peak, in m², in an image with white noise. The
// noise is independent from trace to trace and has the same level in all traces. The argument is
// the signal-to-noise ratio of the peak in dB ([sizing.Indication].SNRDB). The covariance is of the
// first order: it holds above about 15 dB.
//
// The gradient of the noise moves the peak, as far as the noise is in phase with the peak. The
// noise has the spectrum of the filter of the image, not the spectrum of the pulse.
func (p *Peak) Scatter(snrDB float64) (xx, xz, zz float64) {
	// The phase of I changes with the place by k, in rad/m.
	k := [2]float64{imag(p.slope[0] / p.value), imag(p.slope[1] / p.value)}
	var n, mx, mz, mxx, mxz, mzz float64 // variance, and moments of the slopes with it
	for i := range p.terms {
		t := p.terms[i].term
		n += t.noise
		mx += t.noise * t.slope.X
		mz += t.noise * t.slope.Z
		mxx += t.noise * t.slope.X * t.slope.X
		mxz += t.noise * t.slope.X * t.slope.Z
		mzz += t.noise * t.slope.Z * t.slope.Z
	}
	mx, mz, mxx, mxz, mzz = mx/n, mz/n, mxx/n, mxz/n, mzz/n
	// The part in phase with the peak has half of the variance of the noise.
	gradient := func(square, ma, mb, ka, kb float64) float64 {
		return ((p.carrier*p.carrier+p.band*p.band)*square - p.carrier*(ma*kb+mb*ka) + ka*kb) / 2
	}
	gxx, gxz, gzz := gradient(mxx, mx, mx, k[0], k[0]), gradient(mxz, mx, mz, k[0], k[1]), gradient(mzz, mz, mz, k[1], k[1])
	// |I|² changes by 2·|I| times the noise.
	power := real(p.value * cmplx.Conj(p.value))
	scale := 4 * power * power * math.Pow(10, -snrDB/10)
	a, b, c := p.inverse[0], p.inverse[1], p.inverse[2]
	xx = scale * (a*a*gxx + 2*a*b*gxz + b*b*gzz)
	xz = scale * (a*b*gxx + (a*c+b*b)*gxz + b*c*gzz)
	zz = scale * (b*b*gxx + 2*b*c*gxz + c*c*gzz)
	return xx, xz, zz
}
