// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
)

// Grains describes a metal made of many small cubic crystals of no preferred
// orientation, to predict how the elastic contrast between neighbours scatters
// a wave. Only the scattering is predicted: absorption comes on top.
//
// Which of its two laws holds depends on the wavelength λ of the mode against
// the mean diameter D: [Grains.Rayleigh] where λ is well above 2πD,
// [Grains.Stochastic] where λ lies between 2πD and D. Between the two, and for a
// wide distribution of diameters, each is only an order of magnitude. With still
// shorter waves (diffusion) the attenuation goes with 1/D and neither holds.
type Grains struct {
	Medium   Isotropic // the polycrystal, a valid solid
	Crystal  Cubic     // stiffness of one grain in Pa, of which C11 − C12 − 2·C44 counts
	Diameter float64   // mean diameter in m, finite and above 0
}

// Validate reports the first field out of its range.
func (g Grains) Validate() error {
	if err := g.Medium.Validate(); err != nil {
		return err
	}
	if g.Medium.Fluid() {
		return fmt.Errorf("material: grains in a fluid: want a solid, with a transverse speed above 0")
	}
	if a := g.anisotropy(); math.IsNaN(a) || math.IsInf(a, 0) {
		return fmt.Errorf("material: anisotropy C11 − C12 − 2·C44 of the grains %v Pa: want a finite value", a)
	}
	if !(g.Diameter > 0) || math.IsInf(g.Diameter, 0) {
		return fmt.Errorf("material: grain diameter %v m: want a finite value above 0", g.Diameter)
	}
	return nil
}

func (g Grains) anisotropy() float64 { return g.Crystal.C11 - g.Crystal.C12 - 2*g.Crystal.C44 }

// Rayleigh returns the law of mode for waves much longer than the grains:
//
//	αL = (8π³/375)·V·f⁴·A²/(ρ²·cL³)·(2/cL⁵ + 3/cT⁵)
//	αT = (6π³/375)·V·f⁴·A²/(ρ²·cT³)·(2/cL⁵ + 3/cT⁵)
//
// in Np/m, with the anisotropy A = C11 − C12 − 2·C44 and the mean volume
// V = πD³/6 (from memory of Papadakis, J. Acoust. Soc. Am. 37, 1965, 703, after
// Bhatia and Moore). The error is that of [Grains.Validate] or of a mode that is
// neither L nor T.
func (g Grains) Rayleigh(mode Mode) (Attenuation, error) {
	if err := g.check(mode); err != nil {
		return nil, err
	}
	a, rho, l, t, c := g.anisotropy(), g.Medium.Density, g.Medium.Longitudinal, g.Medium.Transverse, g.Medium.Speed(mode)
	factor := 8.0
	if mode == T {
		factor = 6
	}
	volume := math.Pi / 6 * math.Pow(g.Diameter, 3)
	shape := 2/math.Pow(l, 5) + 3/math.Pow(t, 5)
	alpha := factor * math.Pow(math.Pi, 3) / 375 * volume * math.Pow(a/rho, 2) / math.Pow(c, 3) * shape
	return perMegahertz(alpha, 4)
}

// Stochastic returns the law of mode for waves between one and 2π mean
// diameters long:
//
//	αL = 16π²·f²·A²·D/(525·ρ²·cL⁶)
//	αT = 4π²·f²·A²·D/(210·ρ²·cT⁶)
//
// in Np/m, with A = C11 − C12 − 2·C44 (from memory of Papadakis, as for
// [Grains.Rayleigh], whose errors it shares).
func (g Grains) Stochastic(mode Mode) (Attenuation, error) {
	if err := g.check(mode); err != nil {
		return nil, err
	}
	factor := 16.0 / 525
	if mode == T {
		factor = 4.0 / 210
	}
	alpha := factor * math.Pi * math.Pi * math.Pow(g.anisotropy()/g.Medium.Density, 2) * g.Diameter / math.Pow(g.Medium.Speed(mode), 6)
	return perMegahertz(alpha, 2)
}

func (g Grains) check(mode Mode) error {
	if mode != L && mode != T {
		return fmt.Errorf("material: wave mode %v: want L or T", mode)
	}
	return g.Validate()
}

// perMegahertz returns the law alpha·f^exponent, f in Hz, with its reference at
// 1 MHz. The error is that of a coefficient out of float64's range.
func perMegahertz(alpha, exponent float64) (Attenuation, error) {
	law := Attenuation{{Alpha: alpha * math.Pow(1e6, exponent), Frequency: 1e6, Exponent: exponent}}
	return law, law.Validate()
}
