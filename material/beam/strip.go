// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Strip is an aperture of one width in the plane of the beam. It is a side of a rectangular probe,
// an element, or the active aperture of a linear array without the gaps between elements.
//
// Every method returns NaN for a field outside its range.
type Strip struct {
	Width      float64 // in the plane of the beam, in m, finite and above 0
	Wavelength float64 // in the medium in m, finite and above 0
}

func (s Strip) valid() bool { return number.Positive(s.Width) && number.Positive(s.Wavelength) }

// Directivity returns the far-field amplitude of one pass at angle from the normal, in radians from
// −π/2 to π/2. It is sin(πu)/(πu) with u = W·sin(angle)/λ, the width W and the wavelength λ. It is
// 1 on the normal, and below 0 in every other side lobe. The first side lobe is at −13.26 dB. A
// soft baffle, or no baffle, multiplies it by cos(angle). For an element on a solid see
// [ContactElement]. It is NaN for an angle outside its range.
func (s Strip) Directivity(angle float64) float64 {
	if !s.valid() || !steered(angle) {
		return math.NaN()
	}
	return stripPattern(s.Width / s.Wavelength * math.Sin(angle))
}

// stripPattern returns sin(πu)/(πu).
func stripPattern(u float64) float64 {
	if math.Abs(u) < 1e-8 {
		return 1 // to rounding
	}
	return math.Sin(math.Pi*u) / (math.Pi * u)
}

// factor returns k: the beam has fallen to level at the angle asin(k·λ/W).
func (s Strip) factor(level Level) float64 {
	if !s.valid() {
		return math.NaN()
	}
	return firstCrossing(stripPattern, level, 2)
}

// HalfAngle returns the angle from the normal, in radians, at which the far field has fallen to
// level. The whole beam is twice as wide. The angle is asin(k·λ/W) with
//
//	k       level                    one-way       pulse-echo
//	0.443   HalfPulseEcho            −3 dB         −6 dB
//	0.603   HalfOneWay               −6 dB         −12 dB
//	0.738   PulseEcho(-20)           −10 dB        −20 dB
//	0.908   OneWay(-20)              −20 dB        −40 dB
//	1       FirstZero
//
// It is NaN for an aperture so small that its field does not fall to the level.
func (s Strip) HalfAngle(level Level) float64 {
	return math.Asin(s.factor(level) * s.Wavelength / s.Width)
}

// FocalWidth returns the width in m of the beam at level in the focal plane: 2k·λ·distance/W, with
// k as for [Strip.HalfAngle]. The aperture is focused on a line at the given distance (m, finite
// and above 0). The half-amplitude width of an image depends on the passes that are focused:
//
//	0.886·λF/W   FocalWidth(F, HalfPulseEcho)   both: total focusing, the full matrix
//	1.207·λF/W   FocalWidth(F, HalfOneWay)      transmission only, or reception only
//	0.603·λF/W   FocalWidth(F, HalfOneWay)/2    each element sends and receives alone: the diagonal
//
// The formula is paraxial. For an aperture wide relative to the distance, use the distance of its
// edge from the focus, √(distance² + W²/4). Focusing works only within the near-field length.
func (s Strip) FocalWidth(distance float64, level Level) float64 {
	if !number.Positive(distance) {
		return math.NaN()
	}
	return 2 * s.factor(level) * s.Wavelength * distance / s.Width
}

// FocalDepth returns the length in m, along the axis, over which the amplitude around the focus
// stays above level. The aperture is focused on a line at the distance F (m, finite and above 0).
// The depth is 6.95·λ·(F/W)² at HalfPulseEcho and 9.69·λ·(F/W)² at HalfOneWay. The formula is
// paraxial, for a depth short relative to the distance. It is NaN for a level below 0.286, where
// the amplitude of a line focus no longer falls steadily.
func (s Strip) FocalDepth(distance float64, level Level) float64 {
	if !s.valid() || !number.Positive(distance) || level < 0.286 {
		return math.NaN()
	}
	return focalLength(firstCrossing(lineFocus, level, 8*math.Pi), s.Width, s.Wavelength, distance)
}

// lineFocus returns the amplitude on the axis of a line focus, |∫ exp(i·phase·u²) du| from 0 to 1.
// It holds at the point where the phase of the edge of the aperture differs from the phase of the
// centre by the given phase.
func lineFocus(phase float64) float64 {
	const points = 40
	cos := func(u float64) float64 { return math.Cos(phase * (u * u)) }
	sin := func(u float64) float64 { return math.Sin(phase * (u * u)) }
	return math.Hypot(quad.Fixed(cos, 0, 1, points, nil, 0), quad.Fixed(sin, 0, 1, points, nil, 0))
}

// rectangleFactors are the near-field factors for a ratio of sides of 0.3, 0.4 … 1.0 (from memory
// of the table in EN 12668-2 and the literature after it).
var rectangleFactors = [...]float64{0.99, 1.00, 1.01, 1.04, 1.09, 1.15, 1.25, 1.37}

// RectangleNearField returns the near-field length k·L²/(4λ) in m of a rectangular probe. L is the
// longer of the two sides, which are in m and in either order; λ is the wavelength in m. The factor
// k is from 0.99 (a ratio of sides up to 0.3) to 1.37 (a square), interpolated linearly in the
// published table. The result is NaN for arguments that are not finite and above 0.
func RectangleNearField(side, other, wavelength float64) float64 {
	if !number.Positive(side) || !number.Positive(other) || !number.Positive(wavelength) {
		return math.NaN()
	}
	long, short := max(side, other), min(side, other)
	at := max(0, (short/long-0.3)*10)
	i := min(int(at), len(rectangleFactors)-2)
	k := rectangleFactors[i] + (at-float64(i))*(rectangleFactors[i+1]-rectangleFactors[i])
	return k * long * long / (4 * wavelength)
}
