// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"iter"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// GratingLobes yields the angles of the grating lobes of a linear array, in radians from the
// normal, ascending:
//
//	sin(lobe) = sin(steer) + m·λ/pitch,   m = ±1, ±2, …
//
// The pitch and the wavelength λ are in m, finite and above 0; the array is steered to the angle
// steer, in radians from −π/2 to π/2. The main beam, m = 0, is not among the lobes. The directivity
// of the element decides how strong the lobes are. GratingLobes yields nothing for arguments
// outside their ranges, and for a pitch above 10⁶ wavelengths.
func GratingLobes(pitch, wavelength, steer float64) iter.Seq[float64] {
	return func(yield func(float64) bool) {
		sin, step := math.Sin(steer), wavelength/pitch
		valid := number.Positive(pitch) && number.Positive(wavelength) && steered(steer)
		if !valid || step < 1e-6 {
			return
		}
		for m := math.Ceil((-1 - sin) / step); ; m++ {
			lobe := sin + m*step
			if !(lobe <= 1) {
				return
			}
			if m != 0 && lobe >= -1 && !yield(math.Asin(lobe)) {
				return
			}
		}
	}
}

// MaxPitch returns the largest pitch in m without a grating lobe, for an array steered up to the
// angle steer (radians). It is λ/(1 + sin|steer|), between half a wavelength and one wavelength. At
// this pitch a lobe lies along the surface. The result is NaN for arguments outside the ranges of
// [GratingLobes].
//
// The rule holds for one frequency and a long aperture. For short pulses and focused images it is
// stricter than necessary (Wilcox and Zhang, IEEE Trans. Ultrason. Ferroelectr. Freq. Control,
// 2018).
func MaxPitch(wavelength, steer float64) float64 {
	if !number.Positive(wavelength) || !steered(steer) {
		return math.NaN()
	}
	return wavelength / (1 + math.Sin(math.Abs(steer)))
}
