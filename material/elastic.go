// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
)

// FromYoungPoisson returns the solid of the given density (kg/m³, finite and
// above 0), Young's modulus (Pa, finite and above 0) and Poisson's ratio (above
// −1, below 0.5):
//
//	cL² = E·(1 − ν)/(ρ·(1 + ν)·(1 − 2ν))
//	cT² = E/(2ρ·(1 + ν))
//
// The error names the argument that is out of its range.
func FromYoungPoisson(density, young, poisson float64) (Isotropic, error) {
	if err := checkElastic("Young's modulus", young); err != nil {
		return Isotropic{}, err
	}
	if !(poisson > -1 && poisson < 0.5) {
		return Isotropic{}, fmt.Errorf("material: Poisson's ratio %v: want above -1 and below 0.5", poisson)
	}
	shear := young / (2 * (1 + poisson))
	return fromModuli(density, 2*shear*(1-poisson)/(1-2*poisson), shear)
}

// FromYoungShear returns the solid of the given density (kg/m³, finite and
// above 0), Young's modulus (Pa, finite and above 0) and shear modulus (Pa,
// above a third of Young's, finite):
//
//	cL² = G·(4G − E)/(ρ·(3G − E))
//	cT² = G/ρ
//
// The error names the argument that is out of its range.
func FromYoungShear(density, young, shear float64) (Isotropic, error) {
	if err := checkElastic("Young's modulus", young); err != nil {
		return Isotropic{}, err
	}
	if !(shear > young/3) || math.IsInf(shear, 0) {
		return Isotropic{}, fmt.Errorf("material: shear modulus %v Pa: want a finite value above %.6g Pa (a third of Young's modulus)", shear, young/3)
	}
	return fromModuli(density, shear*((4*shear-young)/(3*shear-young)), shear)
}

// FromBulkShear returns the medium of the given density (kg/m³, finite and
// above 0), bulk modulus (Pa, finite and above 0) and shear modulus (Pa, finite;
// 0 for a fluid, else above 0):
//
//	cL² = (K + 4G/3)/ρ
//	cT² = G/ρ
//
// The error names the argument that is out of its range.
func FromBulkShear(density, bulk, shear float64) (Isotropic, error) {
	if err := checkElastic("bulk modulus", bulk); err != nil {
		return Isotropic{}, err
	}
	if err := checkShear(shear); err != nil {
		return Isotropic{}, err
	}
	return fromModuli(density, bulk+4*shear/3, shear)
}

// FromLame returns the medium of the given density (kg/m³, finite and above 0)
// and Lamé parameters λ (Pa, finite and above −2μ/3) and μ, the shear modulus
// (Pa, finite; 0 for a fluid, else above 0):
//
//	cL² = (λ + 2μ)/ρ
//	cT² = μ/ρ
//
// The error names the argument that is out of its range.
func FromLame(density, lambda, mu float64) (Isotropic, error) {
	if err := checkShear(mu); err != nil {
		return Isotropic{}, err
	}
	if !(lambda > -2*mu/3) || math.IsInf(lambda, 0) {
		return Isotropic{}, fmt.Errorf("material: Lamé's first parameter %v Pa: want a finite value above %.6g Pa (−2/3 of the shear modulus)", lambda, -2*mu/3)
	}
	return fromModuli(density, lambda+2*mu, mu)
}

// fromModuli returns the medium of the given longitudinal and shear modulus.
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

func checkElastic(name string, modulus float64) error {
	if !(modulus > 0) || math.IsInf(modulus, 0) {
		return fmt.Errorf("material: %s %v Pa: want a finite value above 0", name, modulus)
	}
	return nil
}

func checkShear(modulus float64) error {
	if !(modulus >= 0) || math.IsInf(modulus, 0) {
		return fmt.Errorf("material: shear modulus %v Pa: want 0 (a fluid) or a finite value above 0", modulus)
	}
	return nil
}

// LongitudinalModulus returns ρ·cL² = λ + 2μ = K + 4G/3 in Pa, the stiffness
// against strain along one axis without strain across it.
func (m Isotropic) LongitudinalModulus() float64 {
	return m.Density * m.Longitudinal * m.Longitudinal
}

// ShearModulus returns G = μ = ρ·cT² in Pa; it is 0 for a fluid.
func (m Isotropic) ShearModulus() float64 {
	return m.Density * m.Transverse * m.Transverse
}

// LameLambda returns Lamé's first parameter λ = ρ·(cL² − 2cT²) in Pa. It is
// below 0 where Poisson's ratio is.
func (m Isotropic) LameLambda() float64 {
	l, t := m.Longitudinal, m.Transverse
	return m.Density * (l*l - 2*t*t)
}

// BulkModulus returns K = ρ·(cL² − 4cT²/3) in Pa. Measured with sound it is the
// adiabatic one.
func (m Isotropic) BulkModulus() float64 {
	l, t := m.Longitudinal, m.Transverse
	return m.Density * (l*l - 4*t*t/3)
}

// YoungModulus returns E = ρ·cT²·(3cL² − 4cT²)/(cL² − cT²) in Pa; it is 0 for a
// fluid.
func (m Isotropic) YoungModulus() float64 {
	bar := m.BarSpeed()
	return m.Density * bar * bar
}

// PoissonRatio returns ν = (cL² − 2cT²)/(2·(cL² − cT²)), from above −1 to 0.5,
// which is that of a fluid.
func (m Isotropic) PoissonRatio() float64 {
	k := m.Transverse / m.Longitudinal
	k *= k
	return (1 - 2*k) / (2 * (1 - k))
}

// BarSpeed returns √(E/ρ) in m/s, the speed of extensional waves much longer
// than the bar is thick; it is 0 for a fluid.
func (m Isotropic) BarSpeed() float64 {
	k := m.Transverse / m.Longitudinal
	k *= k
	return m.Transverse * math.Sqrt((3-4*k)/(1-k))
}

// PlateSpeed returns √(E/(ρ·(1 − ν²))) = 2cT·√(1 − cT²/cL²) in m/s, the speed
// of extensional waves much longer than the plate is thick (the low-frequency
// limit of the first symmetric Lamb mode); it is 0 for a fluid.
func (m Isotropic) PlateSpeed() float64 {
	k := m.Transverse / m.Longitudinal
	return 2 * m.Transverse * math.Sqrt(1-k*k)
}

// Impedance returns the specific acoustic impedance ρ·c for mode, in
// kg/(m²·s) = Pa·s/m (10⁶ of which are 1 MRayl); it is 0 for T in a fluid.
func (m Isotropic) Impedance(mode Mode) float64 { return m.Density * m.Speed(mode) }
