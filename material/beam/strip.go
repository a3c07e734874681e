// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"fmt"
	"math"
)

// Strip is an aperture of one width in the plane of the beam: a side of a
// rectangular probe, an element, or the active aperture of a linear array, whose
// elements it takes as closed up.
type Strip struct {
	Width      float64 // in the plane of the beam, in m, finite and above 0
	Wavelength float64 // in the medium in m, finite and above 0
}

// Validate reports the first field out of its range.
func (s Strip) Validate() error {
	if !positive(s.Width) {
		return fmt.Errorf("beam: width %v m: want a finite value above 0", s.Width)
	}
	if !positive(s.Wavelength) {
		return fmt.Errorf("beam: wavelength %v m: want a finite value above 0", s.Wavelength)
	}
	return nil
}

func (s Strip) valid() bool { return s.Validate() == nil }

// Directivity returns the far-field amplitude of one pass at angle from the
// normal (−π/2 to π/2), sin(πu)/(πu) with u = W·sin(angle)/λ: 1 on the normal,
// below 0 in every other side lobe, the first of which is at −13.26 dB. A soft
// baffle, or none, multiplies it by cos(angle); for an element on a solid see
// [Element].
func (s Strip) Directivity(angle float64) float64 {
	if !s.valid() || !steered(angle) {
		return math.NaN()
	}
	return stripPattern(s.Width / s.Wavelength * math.Sin(angle))
}

func stripPattern(u float64) float64 {
	if math.Abs(u) < 1e-8 {
		return 1 // to rounding
	}
	return math.Sin(math.Pi*u) / (math.Pi * u)
}

// Factor returns k such that the beam has fallen to level at the angle
// asin(k·λ/W):
//
//	k       level                    one-way       pulse-echo
//	0.443   HalfPulseEcho            −3 dB         −6 dB
//	0.603   HalfOneWay               −6 dB         −12 dB
//	0.738   PulseEcho(-20)           −10 dB        −20 dB
//	0.908   OneWay(-20)              −20 dB        −40 dB
//	1       FirstZero
func (s Strip) Factor(level Level) float64 {
	if !s.valid() {
		return math.NaN()
	}
	return firstCrossing(stripPattern, level, 2)
}

// HalfAngle returns the angle from the normal, in radians, at which the far
// field has fallen to level; the whole beam is twice as wide. It is NaN for an
// aperture so small that the field does not fall so far.
func (s Strip) HalfAngle(level Level) float64 {
	return math.Asin(s.Factor(level) * s.Wavelength / s.Width)
}

// FocalWidth returns the width in m of the beam at level in the focal plane, at
// the given distance (m) from an aperture that is focused on a line across its
// plane: 2k·λ·distance/W. The half-amplitude width of an image depends on what
// is focused:
//
//	0.886·λF/W   FocalWidth(F, HalfPulseEcho)   transmission and reception: total focusing, the full matrix
//	1.207·λF/W   FocalWidth(F, HalfOneWay)      transmission or reception only
//	0.603·λF/W   FocalWidth(F, HalfOneWay)/2    one element after the other sends and receives: the diagonal of the matrix
//
// It is the paraxial formula. For an aperture wide against the distance, put the
// distance of its edge from the focus, √(distance² + W²/4), in its place.
// Focusing works only within the near-field length.
func (s Strip) FocalWidth(distance float64, level Level) float64 {
	if !positive(distance) {
		return math.NaN()
	}
	return 2 * s.Factor(level) * s.Wavelength * distance / s.Width
}

// FocalDepth returns the length in m, along the axis, over which the amplitude
// around a focus at the given distance (m) stays above level, for an aperture
// focused on a line across its plane: 6.95·λ·(F/W)² at HalfPulseEcho and
// 9.69·λ·(F/W)² at HalfOneWay. It is the paraxial formula, for a depth short
// against the distance. It is NaN for a level of 0.28 or less, below which the
// amplitude of a line focus no longer falls steadily.
func (s Strip) FocalDepth(distance float64, level Level) float64 {
	if !s.valid() || !positive(distance) || level < 0.286 {
		return math.NaN()
	}
	return focalDepth(func(float64) float64 { return 1 }, func(u float64) float64 { return u * u }, s.Width, s.Wavelength, distance, level)
}

// rectangleFactors is the near-field factor for a ratio of sides of 0.3, 0.4 …
// 1.0 (from memory of the table in EN 12668-2 and the literature after it).
var rectangleFactors = [...]float64{0.99, 1.00, 1.01, 1.04, 1.09, 1.15, 1.25, 1.37}

// RectangleNearField returns the near-field length in m of a rectangular probe
// with the given sides (m, in either order), k·L²/(4λ) with L the longer side
// and k from 0.99 (a ratio of sides up to 0.3) to 1.37 (a square), between the
// entries of the published table by straight lines. It is NaN for arguments that
// are not finite and above 0.
func RectangleNearField(side, other, wavelength float64) float64 {
	if !positive(side, other, wavelength) {
		return math.NaN()
	}
	long, short := max(side, other), min(side, other)
	at := max(0, (short/long-0.3)*10)
	i := min(int(at), len(rectangleFactors)-2)
	k := rectangleFactors[i] + (at-float64(i))*(rectangleFactors[i+1]-rectangleFactors[i])
	return k * long * long / (4 * wavelength)
}
