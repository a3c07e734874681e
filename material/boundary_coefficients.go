// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

// A Scattering holds the waves that leave a [Boundary] for a wave of unit
// amplitude (or energy) that falls on it, in the three conventions in use. Never
// mix them: they differ by factors up to the ratio of the impedances.
type Scattering struct {
	Displacement DisplacementCoefficients
	Pressure     PressureCoefficients
	Energy       EnergyCoefficients
}

// DisplacementCoefficients are the displacements (or particle velocities) of
// the waves that leave a [Boundary] divided by that of the incident one, at the
// boundary. Signs and phases are those stated there. Index with [L] or [T]:
//
//	d.Transmitted[material.T]
type DisplacementCoefficients struct {
	Reflected, Transmitted [2]complex128
}

// PressureCoefficients are the sound pressures of the waves that leave a
// [Boundary] divided by that of the incident one; for a T wave the stress on its
// wave front, the shear stress, stands for the pressure. With the specific
// acoustic impedances Z = ρ·c of the two waves they are
//
//	pressure coefficient = displacement coefficient · Z(leaving)/Z(incident)
//
// and have the same sign. For L at normal incidence 1 + reflected = transmitted:
// a transmitted pressure above 1 breaks no law, the energy does not exceed 1.
// Index with [L] or [T].
type PressureCoefficients struct {
	Reflected, Transmitted [2]complex128
}

// EnergyCoefficients are the parts of the energy arriving at a [Boundary] that
// the leaving waves carry away, each from 0 to 1, with the sum 1:
//
//	energy coefficient = |displacement coefficient|² · (Z·cos θ)(leaving)/(Z·cos θ)(incident)
//
// They count the energy that crosses an area of the boundary. The intensity of
// a refracted beam is another number, since its cross-section differs. In
// decibels, an energy coefficient takes 10·log10. Index with [L] or [T].
type EnergyCoefficients struct {
	Reflected, Transmitted [2]float64
}

// Pressure converts d, which belongs to an incident wave of the given mode at b.
func (d DisplacementCoefficients) Pressure(b Boundary, incident Mode) PressureCoefficients {
	var p PressureCoefficients
	for out := L; out <= T; out++ {
		r, t := b.impedanceRatios(incident, out)
		p.Reflected[out] = boundaryScale(d.Reflected[out], r)
		p.Transmitted[out] = boundaryScale(d.Transmitted[out], t)
	}
	return p
}

// Displacement converts p, which belongs to an incident wave of the given mode
// at b.
func (p PressureCoefficients) Displacement(b Boundary, incident Mode) DisplacementCoefficients {
	var d DisplacementCoefficients
	for out := L; out <= T; out++ {
		r, t := b.impedanceRatios(incident, out)
		if r > 0 {
			d.Reflected[out] = boundaryScale(p.Reflected[out], 1/r)
		}
		if t > 0 {
			d.Transmitted[out] = boundaryScale(p.Transmitted[out], 1/t)
		}
	}
	return d
}

// impedanceRatios returns the impedance of the reflected and of the transmitted
// wave of mode out, divided by that of the incident wave; 0 where the wave does
// not exist.
func (b Boundary) impedanceRatios(incident, out Mode) (reflected, transmitted float64) {
	c := b.upper.Speed(incident)
	return b.upper.Speed(out) / c, b.lower.Density / b.upper.Density * (b.lower.Speed(out) / c)
}

// boundaryScale returns f·z, a real factor times a complex number.
func boundaryScale(z complex128, f float64) complex128 { return complex(f*real(z), f*imag(z)) }
