// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// Profile is how the normal velocity of a circular source falls towards its
// edge: as (1 − r²/a²)ⁿ with the radius a and n = 0, 1 or 2.
type Profile uint8

// The profiles.
const (
	Piston          Profile = iota // n = 0: the same all over, the model of a probe
	SimplySupported                // n = 1: zero at the edge, as a disc on a simple support
	Clamped                        // n = 2: zero with its slope at the edge, as a clamped disc
	profileCount
)

// Disc is a circular source in an infinite rigid baffle that sends into a fluid,
// or longitudinal waves into a solid in the usual approximation. The beams of a
// Disc are those of one frequency; a pulse smooths the near field and the side
// lobes, and leaves the main lobe at about its centre frequency's.
type Disc struct {
	Diameter   float64 // of the active face in m, finite and above 0
	Wavelength float64 // in the medium in m, finite and above 0
	Profile    Profile
}

// Validate reports the first field out of its range.
func (d Disc) Validate() error {
	if !positive(d.Diameter) {
		return fmt.Errorf("beam: diameter %v m: want a finite value above 0", d.Diameter)
	}
	if !positive(d.Wavelength) {
		return fmt.Errorf("beam: wavelength %v m: want a finite value above 0", d.Wavelength)
	}
	if d.Profile >= profileCount {
		return fmt.Errorf("beam: profile %d: want Piston, SimplySupported or Clamped", d.Profile)
	}
	return nil
}

func (d Disc) valid() bool { return d.Validate() == nil }

// NearField returns the near-field length in m, the distance of the last
// maximum on the axis of a disc much wider than the wavelength: D²/(4λ) = a²/λ
// for a piston, 3/4 and 9/16 of it for the other profiles (J. Acoust. Soc. Am.,
// doi 10.1121/1.1903238; the two fractions are rounded).
func (d Disc) NearField() float64 {
	if !d.valid() {
		return math.NaN()
	}
	return d.Diameter * d.Diameter / (4 * d.Wavelength) * [profileCount]float64{1, 3.0 / 4, 9.0 / 16}[d.Profile]
}

// LastMaximum returns the exact distance in m of the last maximum on the axis
// of a piston, (D² − λ²)/(4λ). It is NaN for the other profiles, and for a
// piston not wider than the wavelength, which has none.
func (d Disc) LastMaximum() float64 {
	if !d.valid() || d.Profile != Piston || d.Diameter <= d.Wavelength {
		return math.NaN()
	}
	return (d.Diameter - d.Wavelength) * (d.Diameter + d.Wavelength) / (4 * d.Wavelength)
}

// Axial returns the amplitude of the pressure on the axis at distance z (m, 0 or
// above) from the face, in units of ρ·c times the amplitude of velocity at the
// centre of the face. For a piston it is
//
//	2·|sin(π·(√(z² + a²) − z)/λ)|
//
// and for the other profiles Rayleigh's integral, done numerically to rounding.
// It is NaN for z below 0, and for those profiles on a disc wider than 10⁴
// wavelengths.
func (d Disc) Axial(z float64) float64 {
	if !d.valid() || !(z >= 0) || math.IsInf(z, 0) {
		return math.NaN()
	}
	a := d.Diameter / 2
	edge := math.Hypot(z, a)
	// The distances from the point to the rim and to the centre differ by
	// depth; written so, it keeps its digits far from the disc.
	depth := a * a / (edge + z)
	k := 2 * math.Pi / d.Wavelength
	if d.Profile == Piston {
		return 2 * math.Abs(math.Sin(k*depth/2))
	}
	if d.Diameter > widestDisc*d.Wavelength {
		return math.NaN()
	}
	// With R = z + s the distance to the ring of radius r, r² = s·(2z + s) and
	// p = k·|∫ (1 − r²/a²)ⁿ·exp(iks) ds| from 0 to depth.
	n := float64(d.Profile)
	weight := func(s float64) float64 { return math.Pow(max(0, 1-s*(2*z+s)/(a*a)), n) }
	points := 16 + int(math.Ceil(k*depth)) // Gauss's rule converges once it has a point or two a radian
	re := quad.Fixed(func(s float64) float64 { return weight(s) * math.Cos(k*s) }, 0, depth, points, nil, 0)
	im := quad.Fixed(func(s float64) float64 { return weight(s) * math.Sin(k*s) }, 0, depth, points, nil, 0)
	return k * math.Hypot(re, im)
}

// widestDisc is the diameter in wavelengths up to which Axial integrates: the
// number of points grows with it.
const widestDisc = 1e4

// Directivity returns the far-field amplitude of one pass at angle from the axis
// (−π/2 to π/2), 1 on the axis and below 0 in every other side lobe. With
// x = π·D·sin(angle)/λ it is 2·J1(x)/x for a piston, and in general
// (n + 1)!·(2/x)ⁿ⁺¹·Jn+1(x). The first side lobe of a piston is at −17.57 dB
// (pulse-echo −35.14 dB), those of the other profiles 7 dB and 13 dB below.
func (d Disc) Directivity(angle float64) float64 {
	if !d.valid() || !steered(angle) {
		return math.NaN()
	}
	return d.Profile.pattern(math.Pi * d.Diameter / d.Wavelength * math.Sin(angle))
}

// pattern is the far-field amplitude at x = π·D·sin(angle)/λ.
func (p Profile) pattern(x float64) float64 {
	n := int(p)
	if math.Abs(x) < 1e-4 {
		return 1 - x*x/float64(4*(n+2)) // good to 1e-17
	}
	f := math.Jn(n+1, x)
	for i := range n + 1 {
		f *= 2 * float64(i+1) / x
	}
	return f
}

// Factor returns k such that the beam has fallen to level at the angle asin(k·λ/D).
// For a piston:
//
//	k       level                    one-way       pulse-echo
//	0.514   HalfPulseEcho            −3 dB         −6 dB
//	0.705   HalfOneWay               −6 dB         −12 dB
//	0.869   PulseEcho(-20)           −10 dB        −20 dB
//	1.089   OneWay(-20)              −20 dB        −40 dB
//	1.220   FirstZero
func (d Disc) Factor(level Level) float64 {
	if !d.valid() {
		return math.NaN()
	}
	return firstCrossing(d.Profile.pattern, level, 7) / math.Pi
}

// HalfAngle returns the angle from the axis, in radians, at which the far field
// has fallen to level; the whole beam is twice as wide. It is NaN for a source
// so small that the field does not fall so far.
func (d Disc) HalfAngle(level Level) float64 {
	return math.Asin(d.Factor(level) * d.Wavelength / d.Diameter)
}

// FocalWidth returns the width in m of the beam at level in the focal plane, at
// the given distance (m) from a disc that is focused on a point of its axis:
// 2k·λ·distance/D. HalfPulseEcho gives 1.029·λF/D.
//
// It is the paraxial formula. For a disc wide against the distance, put the
// distance of the rim from the focus, √(distance² + D²/4), in its place. Focusing
// works only within the near-field length.
func (d Disc) FocalWidth(distance float64, level Level) float64 {
	if !positive(distance) {
		return math.NaN()
	}
	return 2 * d.Factor(level) * d.Wavelength * distance / d.Diameter
}

// FocalDepth returns the length in m, along the axis, over which the amplitude
// around a focus at the given distance (m) stays above level, for a disc focused
// on a point of its axis. For a piston it is 7.09·λ·(F/D)² at HalfPulseEcho,
// 9.65·λ·(F/D)² at HalfOneWay and 16·λ·(F/D)² at FirstZero. It is the paraxial
// formula, for a depth short against the distance. The other profiles have no
// zero on the axis; for them it is NaN at levels below 0.12.
func (d Disc) FocalDepth(distance float64, level Level) float64 {
	if !d.valid() || !positive(distance) {
		return math.NaN()
	}
	if d.Profile == Piston {
		// The closed form, with its sign: no level is stepped over next to a zero.
		return focalLength(2*math.Pi*firstCrossing(stripPattern, level, 2), d.Diameter, d.Wavelength, distance)
	}
	if level < 0.12 {
		return math.NaN()
	}
	n := float64(d.Profile)
	return focalDepth(func(u float64) float64 { return (n + 1) * math.Pow(1-u, n) }, func(u float64) float64 { return u }, d.Diameter, d.Wavelength, distance, level)
}

// focalDepth returns the depth of focus of an aperture whose points u, from 0 at
// the centre to 1 at the rim, have the given weight and lag the centre, at a
// point off focus, by the phase lag(u) times that of the rim. The level must be
// one that the amplitude passes before its first zero or minimum.
func focalDepth(weight, lag func(u float64) float64, diameter, wavelength, distance float64, level Level) float64 {
	const points = 40
	amplitude := func(phase float64) float64 {
		re := quad.Fixed(func(u float64) float64 { return weight(u) * math.Cos(phase*lag(u)) }, 0, 1, points, nil, 0)
		im := quad.Fixed(func(u float64) float64 { return weight(u) * math.Sin(phase*lag(u)) }, 0, 1, points, nil, 0)
		return math.Hypot(re, im)
	}
	return focalLength(firstCrossing(amplitude, level, 8*math.Pi), diameter, wavelength, distance)
}

// focalLength returns the length around the focus at whose ends the rim is out of
// step with the centre by phase: at the distance δ from the focus it is so by
// π·D²δ/(4λF²).
func focalLength(phase, diameter, wavelength, distance float64) float64 {
	ratio := distance / diameter
	return 2 * phase * 4 / math.Pi * wavelength * ratio * ratio
}
