// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"iter"
	"math"
)

// GratingLobes yields the angles from the normal, in radians, of the grating
// lobes of a linear array of the given pitch (m) that is steered to the angle
// steer, in rising order:
//
//	sin(lobe) = sin(steer) + m·λ/pitch,   m = ±1, ±2, …
//
// The main beam, m = 0, is not among them. The element's directivity decides how
// strong they are. It yields none for arguments out of range, among them a pitch
// above 10⁶ wavelengths.
func GratingLobes(pitch, wavelength, steer float64) iter.Seq[float64] {
	return func(yield func(float64) bool) {
		sin, step := math.Sin(steer), wavelength/pitch
		if !positive(pitch, wavelength) || !steered(steer) || step < 1e-6 {
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

// MaxPitch returns the pitch in m up to which an array steered by no more than
// the given angle has no grating lobe: λ/(1 + sin|steer|), from the wavelength
// down to half of it. At that very pitch a lobe lies along the surface. It is
// NaN for arguments out of range.
//
// The rule is that of one frequency and a long aperture. For short pulses and
// focused images it is stricter than needed (Wilcox and Zhang, IEEE Trans.
// Ultrason. Ferroelectr. Freq. Control, 2018).
func MaxPitch(wavelength, steer float64) float64 {
	if !positive(wavelength) || !steered(steer) {
		return math.NaN()
	}
	return wavelength / (1 + math.Sin(math.Abs(steer)))
}
