// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

// A Scattering holds the waves that leave a [Boundary], for an incident wave of unit amplitude or
// energy, in the three conventions in use. Never mix the conventions: they differ by factors up to
// the ratio of the impedances.
type Scattering struct {
	// Displacement holds the displacement (or particle velocity) of each leaving wave divided by
	// the displacement of the incident wave, at the boundary. The documentation of [Boundary]
	// defines the signs and phases.
	Displacement Coefficients

	// Pressure holds the sound pressure of each leaving wave divided by the pressure of the
	// incident wave. For T the shear stress on the wave front stands for the pressure. With the
	// impedances Z = ρ·c of the two waves,
	//
	//	pressure coefficient = displacement coefficient · Z(leaving)/Z(incident)
	//
	// so the sign is the same. For L at normal incidence 1 + reflected = transmitted. A transmitted
	// pressure above 1 is possible; the transmitted energy does not exceed 1.
	Pressure Coefficients

	// Energy holds the part of the incident energy that each leaving wave carries away.
	Energy EnergyCoefficients
}

// Coefficients are complex amplitudes of the waves that leave a [Boundary]. Their index is [L] or
// [T]:
//
//	s.Displacement.Transmitted[material.T]
type Coefficients struct {
	Reflected, Transmitted [2]complex128
}

// EnergyCoefficients are the parts of the energy incident on a [Boundary] that the leaving waves
// carry away, each from 0 to 1, with the sum 1. Their index is [L] or [T]. With the angle θ of each
// wave from the normal,
//
//	energy coefficient = |displacement coefficient|² · (Z·cos θ)(leaving)/(Z·cos θ)(incident)
//
// This is the energy that crosses an area of the boundary. The intensity of a refracted beam
// differs, because the cross-section of the beam differs. In decibels an energy coefficient is
// 10·log10.
type EnergyCoefficients struct {
	Reflected, Transmitted [2]float64
}

// pressure returns the pressure coefficients for the displacement coefficients d of an incident
// wave of the given mode.
func (b Boundary) pressure(d Coefficients, incident Mode) Coefficients {
	c := b.upper.Speed(incident)
	var p Coefficients
	for out := L; out <= T; out++ {
		p.Reflected[out] = boundaryScale(d.Reflected[out], b.upper.Speed(out)/c)
		ratio := b.lower.Density / b.upper.Density * (b.lower.Speed(out) / c)
		p.Transmitted[out] = boundaryScale(d.Transmitted[out], ratio)
	}
	return p
}

// boundaryScale returns f·z, a real factor times a complex number.
func boundaryScale(z complex128, f float64) complex128 { return complex(f*real(z), f*imag(z)) }
