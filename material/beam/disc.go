// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Disc is a circular piston source in an infinite rigid baffle: the normal velocity is the same
// over the whole face. The Disc sends into a fluid or, in the usual approximation, longitudinal
// waves into a solid. The beam is the beam of one frequency. A pulse smooths the near field and the
// side lobes; its main lobe is close to the main lobe of the centre frequency.
//
// Every method returns NaN for a field outside its range.
type Disc struct {
	Diameter   float64 // of the active face in m, finite and above 0
	Wavelength float64 // in the medium in m, finite and above 0
}

func (d Disc) valid() bool { return number.Positive(d.Diameter) && number.Positive(d.Wavelength) }

// NearField returns the near-field length D²/(4λ) in m, with the diameter D and the wavelength λ.
// For a disc much wider than the wavelength it is the distance of the last maximum on the axis. The
// exact distance of that maximum is (D² − λ²)/(4λ).
func (d Disc) NearField() float64 {
	if !d.valid() {
		return math.NaN()
	}
	return d.Diameter * d.Diameter / (4 * d.Wavelength)
}

// Axial returns the amplitude of the pressure on the axis at the distance z from the face (m,
// finite, 0 or above). Its unit is ρ·c times the amplitude of the velocity of the face:
//
//	2·|sin(π·(√(z² + a²) − z)/λ)|
//
// with the radius a and the wavelength λ. It is NaN for z outside its range.
func (d Disc) Axial(z float64) float64 {
	if !d.valid() || !(z >= 0) || math.IsInf(z, 0) {
		return math.NaN()
	}
	a := d.Diameter / 2
	// depth is √(z² + a²) − z in a form that keeps its digits far from the disc.
	depth := a * a / (math.Hypot(z, a) + z)
	return 2 * math.Abs(math.Sin(math.Pi/d.Wavelength*depth))
}

// Directivity returns the far-field amplitude of one pass at angle from the axis, in radians from
// −π/2 to π/2. With x = π·D·sin(angle)/λ it is 2·J1(x)/x: 1 on the axis, and below 0 in every other
// side lobe. The first side lobe is at −17.57 dB (pulse-echo −35.14 dB). It is NaN for an angle
// outside its range.
func (d Disc) Directivity(angle float64) float64 {
	if !d.valid() || !steered(angle) {
		return math.NaN()
	}
	return discPattern(math.Pi * d.Diameter / d.Wavelength * math.Sin(angle))
}

// discPattern returns 2·J1(x)/x.
func discPattern(x float64) float64 {
	if math.Abs(x) < 1e-4 {
		return 1 - x*x/8 // the error is below 1e-17
	}
	return math.J1(x) * (2 / x)
}

// factor returns k: the beam has fallen to level at the angle asin(k·λ/D).
func (d Disc) factor(level Level) float64 {
	if !d.valid() {
		return math.NaN()
	}
	return firstCrossing(discPattern, level, 7) / math.Pi
}

// HalfAngle returns the angle from the axis, in radians, at which the far field has fallen to
// level. The whole beam is twice as wide. The angle is asin(k·λ/D) with
//
//	k       level                    one-way       pulse-echo
//	0.514   HalfPulseEcho            −3 dB         −6 dB
//	0.705   HalfOneWay               −6 dB         −12 dB
//	0.869   PulseEcho(-20)           −10 dB        −20 dB
//	1.089   OneWay(-20)              −20 dB        −40 dB
//	1.220   FirstZero
//
// It is NaN for a source so small that its field does not fall to the level.
func (d Disc) HalfAngle(level Level) float64 {
	return math.Asin(d.factor(level) * d.Wavelength / d.Diameter)
}

// FocalWidth returns the width in m of the beam at level in the focal plane: 2k·λ·distance/D, with
// k as for [Disc.HalfAngle]. The disc is focused on a point of its axis at the given distance (m,
// finite and above 0). HalfPulseEcho gives 1.029·λ·distance/D.
//
// The formula is paraxial. For a disc wide relative to the distance, use the distance of the rim
// from the focus, √(distance² + D²/4). Focusing works only within the near-field length.
func (d Disc) FocalWidth(distance float64, level Level) float64 {
	if !number.Positive(distance) {
		return math.NaN()
	}
	return 2 * d.factor(level) * d.Wavelength * distance / d.Diameter
}

// FocalDepth returns the length in m, along the axis, over which the amplitude around the focus
// stays above level. The disc is focused on a point of its axis at the distance F (m, finite and
// above 0). The depth is 7.09·λ·(F/D)² at HalfPulseEcho, 9.65·λ·(F/D)² at HalfOneWay and
// 16·λ·(F/D)² at FirstZero. The formula is paraxial, for a depth short relative to the distance.
func (d Disc) FocalDepth(distance float64, level Level) float64 {
	if !d.valid() || !number.Positive(distance) {
		return math.NaN()
	}
	// The amplitude around the focus is |sin(φ/2)|/(φ/2) with the phase φ of the rim.
	phase := 2 * math.Pi * firstCrossing(stripPattern, level, 2)
	return focalLength(phase, d.Diameter, d.Wavelength, distance)
}

// focalLength returns the length around the focus at whose ends the phase of the rim differs from
// the phase of the centre by the given phase. At the distance δ from the focus the difference is
// π·D²δ/(4λF²).
func focalLength(phase, diameter, wavelength, distance float64) float64 {
	ratio := distance / diameter
	return 2 * phase * 4 / math.Pi * wavelength * ratio * ratio
}
