// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"fmt"
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/sizing"
)

// ElementBeam returns the beam of elements along the scan. The length of the elements is measured
// along the scan, in m, and the frequency is in Hz. The argument q is the sum of speed times length
// over the legs of a ray, in m²/s: c·r in one medium. The beam is the echo |F(u)|² of a point at
// the distance u along the scan, with
//
//	F(u) = ∫ exp(ia·(u/length - h)²) dh from h = -½ to ½,   a = π·frequency·length²/q
//
// the Fresnel integral of a slit (Goodman, Introduction to Fourier Optics, chapter 4, from memory),
// as in package fmc/synth. Far away it is sinc² with the width 0.886·q/(frequency·length). The
// paraxial form holds where u is small against the path. All arguments are finite and above 0; a is
// at most 1000.
func ElementBeam(length, frequency, q float64) (sizing.Beam, error) {
	for _, v := range []struct {
		name, unit string
		value      float64
	}{{"length", "m", length}, {"frequency", "Hz", frequency}, {"q", "m²/s", q}} {
		if !number.Positive(v.value) {
			return sizing.Beam{}, fmt.Errorf("volume: %s %v %s: want a finite value above 0", v.name, v.value, v.unit)
		}
	}
	a := math.Pi * frequency * length * length / q
	if !(a > 0 && a <= 1000) {
		return sizing.Beam{}, fmt.Errorf("volume: element %v m long at %v Hz and q %v m²/s, so that a is %v: want above 0 to 1000", length, frequency, q, a)
	}
	const points = 160 // on each side
	far := 0.5 + 2.5*math.Pi/a
	values := make([]float64, 2*points+1)
	for i := range points + 1 {
		f := slit(a, far*float64(i)/points)
		values[points+i], values[points-i] = f*f, f*f
	}
	return sizing.NewBeam(values, far*length/points)
}

// slit returns the modulus of the Fresnel integral of a slit of the length 1, u from its middle, by
// Simpson's rule.
func slit(a, u float64) float64 {
	n := 2 * int(math.Ceil(8+a*(u+0.5))) // at most about 1 rad a step
	var sum complex128
	for k := range n + 1 {
		weight := float64(2 + 2*(k%2))
		if k == 0 || k == n {
			weight = 1
		}
		h := u + 0.5 - float64(k)/float64(n)
		sum += complex(weight, 0) * cmplx.Rect(1, a*h*h)
	}
	return cmplx.Abs(sum) / float64(3*n)
}
