// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Grains describes a metal made of many small cubic crystals without preferred orientation. Its
// methods predict the attenuation by scattering: the stiffness of a grain along the wave differs
// from the stiffness of its neighbours. Absorption is not included.
//
// The wavelength λ of the mode and the mean diameter D decide which law holds:
//
//   - [Grains.Rayleigh] where λ is well above 2πD;
//   - [Grains.Stochastic] where λ lies between D and 2πD;
//   - neither law for shorter waves (diffusion), where the attenuation is proportional to 1/D.
//
// Near λ = 2πD, and for a wide distribution of diameters, each law gives the order of magnitude
// only.
type Grains struct {
	Medium   Isotropic // the polycrystal, a valid solid
	Crystal  Cubic     // stiffness of one grain in Pa; only C11 − C12 − 2·C44 enters
	Diameter float64   // mean diameter in m, finite and above 0
}

// check returns an error for a field outside its range and for a mode other than L and T.
func (g Grains) check(mode Mode) error {
	if mode != L && mode != T {
		return fmt.Errorf("material: wave mode %v: want L or T", mode)
	}
	if err := g.Medium.Validate(); err != nil {
		return err
	}
	if g.Medium.Fluid() {
		return errors.New(
			"material: grains in a fluid: want a solid, with a transverse speed above 0")
	}
	if a := g.anisotropy(); !number.Finite(a) {
		return fmt.Errorf(
			"material: anisotropy C11 − C12 − 2·C44 of the grains %v Pa: want a finite value", a)
	}
	if !number.Positive(g.Diameter) {
		return fmt.Errorf("material: grain diameter %v m: want a finite value above 0", g.Diameter)
	}
	return nil
}

func (g Grains) anisotropy() float64 { return g.Crystal.C11 - g.Crystal.C12 - 2*g.Crystal.C44 }

// Rayleigh returns the attenuation of mode for waves much longer than the grains:
//
//	αL = (8π³/375)·V·f⁴·A²/(ρ²·cL³)·(2/cL⁵ + 3/cT⁵)
//	αT = (6π³/375)·V·f⁴·A²/(ρ²·cT³)·(2/cL⁵ + 3/cT⁵)
//
// in Np/m, with the frequency f, the anisotropy A = C11 − C12 − 2·C44 and the mean volume
// V = πD³/6 (from memory of Papadakis, J. Acoust. Soc. Am. 37, 1965, 703, after Bhatia and Moore).
// The error names a field outside its range, or a mode other than L and T.
func (g Grains) Rayleigh(mode Mode) (Attenuation, error) {
	if err := g.check(mode); err != nil {
		return nil, err
	}
	a, rho := g.anisotropy(), g.Medium.Density
	l, t, c := g.Medium.Longitudinal, g.Medium.Transverse, g.Medium.Speed(mode)
	factor := 8.0
	if mode == T {
		factor = 6
	}
	volume := math.Pi / 6 * math.Pow(g.Diameter, 3)
	shape := 2/math.Pow(l, 5) + 3/math.Pow(t, 5)
	alpha := factor * math.Pow(math.Pi, 3) / 375 * volume *
		math.Pow(a/rho, 2) / math.Pow(c, 3) * shape
	return perMegahertz(alpha, 4)
}

// Stochastic returns the attenuation of mode for waves with a length of 1 to 2π mean diameters:
//
//	αL = 16π²·f²·A²·D/(525·ρ²·cL⁶)
//	αT = 4π²·f²·A²·D/(210·ρ²·cT⁶)
//
// in Np/m, with A = C11 − C12 − 2·C44 (from memory of Papadakis, as for [Grains.Rayleigh]). The
// errors are the errors of [Grains.Rayleigh].
func (g Grains) Stochastic(mode Mode) (Attenuation, error) {
	if err := g.check(mode); err != nil {
		return nil, err
	}
	factor := 16.0 / 525
	if mode == T {
		factor = 4.0 / 210
	}
	contrast := math.Pow(g.anisotropy()/g.Medium.Density, 2)
	alpha := factor * math.Pi * math.Pi * contrast * g.Diameter / math.Pow(g.Medium.Speed(mode), 6)
	return perMegahertz(alpha, 2)
}

// perMegahertz returns the law alpha·f^exponent, f in Hz, with the reference frequency 1 MHz. The
// error is a coefficient beyond the range of float64.
func perMegahertz(alpha, exponent float64) (Attenuation, error) {
	law := Attenuation{{Alpha: alpha * math.Pow(1e6, exponent), Frequency: 1e6, Exponent: exponent}}
	return law, law.Validate()
}
