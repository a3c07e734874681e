// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package diffraction

import "math"

// halfLobe is the root of sin(2πh)/(2πh) = 1/2: by Kirchhoff's approximation the echo of a strip of
// length L falls to half at sin θ = halfLobe·λ/L from its normal.
const halfLobe = 0.3016772822

// LobeLength returns the length, in m, of a smooth crack from the half-width of its back-scatter
// lobe, by Kirchhoff's approximation. The half-width is the angle, in radians, from the normal of
// the crack to the direction in which source and receiver together see half of the echo. It is
// above 0 and below π/2. The wavelength is in m, of the wave on both paths. The result is NaN for
// arguments out of range.
//
// Compared with the exact solution for L waves in steel, the length is too long (TestLobeLength).
// The error is 65 % for a crack of a quarter of a wavelength, 14 % for a half, 7 % for one, 3 % for
// two and 1 % for five wavelengths. For T waves it is within 6 % for cracks above 0.9 wavelengths
// of T waves. [Crack] has the exact lobe.
func LobeLength(halfWidth, wavelength float64) float64 {
	if !(halfWidth > 0 && halfWidth < math.Pi/2) || !(wavelength > 0) {
		return math.NaN()
	}
	return halfLobe * wavelength / math.Sin(halfWidth)
}
