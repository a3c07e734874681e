// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"fmt"
	"math"
)

// RoundTrip returns what is left of a wave that goes through b and comes back
// on its path: the product of the transmission coefficients of the incident
// mode into the mode out, and of out, from the lower side, into the incident
// mode. Its modulus is the echo transmittance, the loss of a wedge or of a
// water path to be added to that of the reflector. The product is the same in
// displacement and in pressure, and in modulus equal to the energy coefficient
// of one passage. In decibels it takes 20·log10.
//
// The phase is that of the factor exp(−iωt). The result is 0 where out does not
// exist, or leaves the boundary as an evanescent wave, which no reflector sends
// back. The angle of incidence for a wanted angle in the lower medium comes
// from [Refract]. The error is that of [Boundary.Scatter], or an unknown mode.
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

// CornerEcho returns what is left of a wave that two faces at right angles send
// back towards its origin, such as the back wall of a plate and a crack that
// opens at it: the product of the two reflection coefficients of the wave into
// itself. It falls on the first face at angle from its normal (in radians, 0 ≤
// angle ≤ π/2), on the second at π/2 − angle; the other way round the echo is
// the same. The displacement of the echo at the corner is minus the result times
// that of the incident wave, for L and T alike. In decibels it takes 20·log10
// of the modulus.
//
// Whatever energy the faces convert into the other mode or let through is lost
// to this echo. For T at free faces of a steel it is total from 35° to 55°, and
// falls by nearly 19 dB at 30° and 60°, the trap of the 60° probe. (Which angles
// a weld needs is for the applicable code and a qualified practitioner to say.)
//
// Diffraction at the ends of the faces is left out: they are long against the
// wavelength. Both boundaries have the medium of the wave as their upper
// medium; otherwise that is an error, as are those of [Boundary.Scatter].
func CornerEcho(first, second Boundary, mode Mode, angle float64) (complex128, error) {
	if first.upper != second.upper {
		return 0, errors.New("material: corner of two faces with different upper media: want the same")
	}
	one, err := first.wavesAt(mode, angle)
	if err != nil {
		return 0, err
	}
	// Exchanging sine and cosine, not subtracting from 90°, keeps the
	// symmetry to the last bit.
	sin, cos := math.Sincos(angle)
	two := second.waves(mode, cos, sin)
	return one.solve(mode).Reflected[mode] * two.solve(mode).Reflected[mode], nil
}
