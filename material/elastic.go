// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// FromYoungPoisson returns the solid with the given density (kg/m³, finite and above 0), Young's
// modulus E (Pa, finite and above 0) and Poisson's ratio ν (above −1, below 0.5):
//
//	cL² = E·(1 − ν)/(ρ·(1 + ν)·(1 − 2ν))
//	cT² = E/(2ρ·(1 + ν))
//
// With the shear modulus G instead of ν, use ν = E/(2G) − 1. The error names the argument outside
// its range.
func FromYoungPoisson(density, young, poisson float64) (Isotropic, error) {
	if !number.Positive(young) {
		return Isotropic{}, fmt.Errorf(
			"material: Young's modulus %v Pa: want a finite value above 0", young)
	}
	if !(poisson > -1 && poisson < 0.5) {
		return Isotropic{}, fmt.Errorf("material: Poisson's ratio %v: want above -1 and below 0.5",
			poisson)
	}
	shear := young / (2 * (1 + poisson))
	return fromModuli(density, 2*shear*(1-poisson)/(1-2*poisson), shear)
}

// fromModuli returns the medium with the given moduli in Pa: longitudinal ρ·cL² and shear ρ·cT².
func fromModuli(density, longitudinal, shear float64) (Isotropic, error) {
	m := Isotropic{
		Density:      density,
		Longitudinal: math.Sqrt(longitudinal / density),
		Transverse:   math.Sqrt(shear / density),
	}
	if err := m.Validate(); err != nil {
		return Isotropic{}, err
	}
	return m, nil
}

// ShearModulus returns G = ρ·cT² in Pa, which is also Lamé's second parameter μ. It is 0 for a
// fluid.
func (m Isotropic) ShearModulus() float64 {
	return m.Density * m.Transverse * m.Transverse
}

// BulkModulus returns the adiabatic bulk modulus K = ρ·(cL² − 4cT²/3) in Pa. Lamé's first parameter
// is λ = K − 2G/3.
func (m Isotropic) BulkModulus() float64 {
	l, t := m.Longitudinal, m.Transverse
	return m.Density * (l*l - 4*t*t/3)
}

// YoungModulus returns E = ρ·cT²·(3cL² − 4cT²)/(cL² − cT²) in Pa. It is 0 for a fluid.
func (m Isotropic) YoungModulus() float64 {
	bar := m.BarSpeed()
	return m.Density * bar * bar
}

// PoissonRatio returns ν = (cL² − 2cT²)/(2·(cL² − cT²)), above −1 and at most 0.5. It is 0.5 for a
// fluid.
func (m Isotropic) PoissonRatio() float64 {
	k := m.Transverse / m.Longitudinal
	k *= k
	return (1 - 2*k) / (2 * (1 - k))
}

// BarSpeed returns √(E/ρ) in m/s, the speed of extensional waves in a bar much thinner than the
// wavelength. It is 0 for a fluid.
func (m Isotropic) BarSpeed() float64 {
	k := m.Transverse / m.Longitudinal
	k *= k
	return m.Transverse * math.Sqrt((3-4*k)/(1-k))
}

// PlateSpeed returns √(E/(ρ·(1 − ν²))) = 2cT·√(1 − cT²/cL²) in m/s, the speed of extensional waves
// in a plate much thinner than the wavelength. It is the low-frequency limit of the first symmetric
// Lamb mode. It is 0 for a fluid.
func (m Isotropic) PlateSpeed() float64 {
	k := m.Transverse / m.Longitudinal
	return 2 * m.Transverse * math.Sqrt(1-k*k)
}

// Impedance returns the specific acoustic impedance ρ·c of mode in Pa·s/m; 10⁶ Pa·s/m are 1 MRayl.
// It is 0 for T in a fluid, and NaN for a mode other than L and T.
func (m Isotropic) Impedance(mode Mode) float64 { return m.Density * m.Speed(mode) }
