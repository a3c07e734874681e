// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"fmt"
	"math"
)

// RoundTrip returns the complex amplitude, relative to the incident wave, of a wave that crosses b
// and returns on the same path. It is the product of two transmission coefficients: incident to out
// downwards, and out to incident upwards. Its modulus is the echo transmittance, the loss of a
// wedge or of a water path. The product is the same in displacement and in pressure, and its
// modulus is the energy coefficient of one passage. In decibels it is 20·log10 of the modulus.
//
// The phase belongs to the time factor exp(−iωt). The result is 0 if the mode out does not exist
// below b, or leaves b as an evanescent wave, which no reflector returns. For a wanted angle in the
// lower medium, [Refract] gives the angle of incidence. The errors are the errors of
// [Boundary.Scatter] and a mode other than L and T.
func (b Boundary) RoundTrip(incident, out Mode, angle float64) (complex128, error) {
	if out > T {
		return 0, fmt.Errorf("material: transmitted mode %v: want L or T", out)
	}
	w, err := b.wavesAt(incident, angle)
	if err != nil {
		return 0, err
	}
	if w.lower.throughput(out) == 0 {
		return 0, nil
	}
	there := w.solve(incident)
	w.upper, w.lower = w.lower, w.upper
	back := w.solve(out)
	return there.Transmitted[out] * back.Transmitted[incident], nil
}

// CornerEcho returns the complex amplitude, relative to the incident wave, of the wave that two
// perpendicular faces return towards its origin. An example is the back wall of a plate and a crack
// that opens at it. The result is the product of two reflection coefficients of the mode into
// itself. The wave falls on the first face at angle from the normal of that face (radians, 0 ≤
// angle ≤ π/2) and on the second face at π/2 − angle. The opposite order of the faces gives the
// same echo. The displacement of the echo at the corner is minus the result times the displacement
// of the incident wave, for L and T. In decibels the echo is 20·log10 of the modulus.
//
// Energy that a face converts into the other mode, or transmits, is lost to this echo. For T at
// free faces of steel the reflection is total from 35° to 55°. At 30° and 60° the echo is nearly 19
// dB weaker, which is the known weakness of the 60° probe. The applicable code and a qualified
// practitioner decide which angles a weld needs.
//
// Diffraction at the ends of the faces is not included: the faces are long relative to the
// wavelength. The medium of the wave must be the upper medium of both boundaries; otherwise the
// call returns an error. The other errors are the errors of [Boundary.Scatter].
func CornerEcho(first, second Boundary, mode Mode, angle float64) (complex128, error) {
	if first.upper != second.upper {
		return 0, errors.New(
			"material: corner of two faces with different upper media: want the same")
	}
	one, err := first.wavesAt(mode, angle)
	if err != nil {
		return 0, err
	}
	// The exchange of sine and cosine keeps the symmetry to the last bit; π/2 − angle would not.
	sin, cos := math.Sincos(angle)
	two := second.waves(mode, cos, sin)
	return one.solve(mode).Reflected[mode] * two.solve(mode).Reflected[mode], nil
}
