// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/diffraction"
)

// cracks checks the echoes of cracks and of their tips.
func cracks() []check {
	const l, t = material.L, material.T
	return []check{
		{"tip, L to L, pulse-echo at 60°, steel", calculated, "NumPy, Wiener-Hopf half plane", "0.1747924", "", 0, tip(blockSteel, l, l, 60)},
		{"tip, T to T, pulse-echo at 60°, steel", calculated, "NumPy, Wiener-Hopf half plane", "0.3356169", "", 0, tip(blockSteel, t, t, 60)},
		{"tip, L to T at 45°, steel", calculated, "NumPy, Wiener-Hopf half plane", "0.1829856", "", 0, tip(blockSteel, l, t, 45)},
		{"tip, L to L, pulse-echo at 135°, ν = 1/4", calculated, "NumPy, Wiener-Hopf half plane", "0.0521498", "", 0, tip(quarterSolid, l, l, 135)},
		{"time of flight diffraction, no echo of the lower tip", published, "textbooks, from memory: near 38°", "38", "°", 1.5, lowerTipNull},
		{"time of flight diffraction, upper tip at 60°", calculated, "NumPy, Wiener-Hopf half plane", "0.0816033", "", 0, forwardTip(-1, 60)},
		{"time of flight diffraction, lower tip at 60°", calculated, "NumPy, Wiener-Hopf half plane", "0.1046726", "", 0, forwardTip(1, 60)},
		{"crack of one wavelength, L at right angles", calculated, "NumPy, Galerkin", "0.9381675", "", 0, crack(1, l, 0)},
		{"crack of five wavelengths, L at right angles", closedForm, "Kirchhoff, L/λ", "5", "", 0.03, crack(5, l, 0)},
		{"crack of two wavelengths, L at 30°", calculated, "NumPy, Galerkin", "0.0629707", "", 0, crack(2, l, 30)},
		{"crack of half a wavelength of L, T at right angles", calculated, "NumPy, Galerkin", "1.0560972", "", 0, crack(0.5, t, 0)},
		{"crack of five wavelengths, cross-section over length", closedForm, "Kirchhoff, the shadow again: 2", "2", "", 0.02, func() (float64, error) {
			c, err := newCrack(5)
			return c.CrossSection(l, 90*degree) / (5 * wavelengthOfL), err
		}},
		{"crack, L to T over T to L, in (cL/cT)²", identity, "algebra, reciprocity", "1", "", 1e-6, func() (float64, error) {
			c, err := newCrack(1)
			if err != nil {
				return 0, err
			}
			a, b := 70*degree, 20*degree
			ratio := cmplx.Abs(c.Amplitude(l, t, a, b)) / cmplx.Abs(c.Amplitude(t, l, b, a))
			return ratio / math.Pow(blockSteel.Longitudinal/blockSteel.Transverse, 2), nil
		}},
		{"half-width of the lobe of a long crack, in λ/L", closedForm, "Kirchhoff, sinc(2u) = 1/2", "0.3016773", "", 0, exactly(func() float64 {
			return math.Sin(1e-3) * diffraction.LobeLength(1e-3, 1)
		})},
	}
}

const (
	crackFrequency = 5e6
	wavelengthOfL  = 5920 / crackFrequency // in blockSteel
)

// newCrack returns a crack in steel with a length in wavelengths of L waves.
func newCrack(lengths float64) (*diffraction.Crack, error) {
	return diffraction.NewCrack(blockSteel, lengths*wavelengthOfL, crackFrequency)
}

// crack returns the amplitude in pulse-echo at an angle in degrees from the normal of a crack.
func crack(lengths float64, mode material.Mode, angle float64) func() (float64, error) {
	return func() (float64, error) {
		c, err := newCrack(lengths)
		if err != nil {
			return 0, err
		}
		from := (90 - angle) * degree
		return cmplx.Abs(c.Amplitude(mode, mode, from, from)), nil
	}
}

// tip returns the coefficient in pulse-echo at an angle in degrees from the face of the crack.
func tip(m material.Isotropic, in, out material.Mode, angle float64) func() (float64, error) {
	return func() (float64, error) {
		h, err := diffraction.NewTip(m)
		if err != nil {
			return 0, err
		}
		return cmplx.Abs(h.Coefficient(in, out, angle*degree, angle*degree)), nil
	}
}

// forwardTip returns the coefficient of a tip of a vertical crack between a source and a receiver
// for L waves, at an angle in degrees from the vertical. The crack goes up from the lower tip,
// which has the side 1: its face points to source and receiver. It goes down from the upper tip,
// side -1.
func forwardTip(side, angle float64) func() (float64, error) {
	return func() (float64, error) {
		v, err := tipBetween(side, angle)
		return cmplx.Abs(v), err
	}
}

func tipBetween(side, angle float64) (complex128, error) {
	h, err := diffraction.NewTip(blockSteel)
	if err != nil {
		return 0, err
	}
	from := angle * degree
	if side < 0 {
		from = math.Pi - from
	}
	return h.Coefficient(material.L, material.L, from, -from), nil
}

// lowerTipNull returns the angle in degrees at which the lower tip has no echo.
func lowerTipNull() (float64, error) {
	at, least := 0.0, math.Inf(1)
	for angle := 32.0; angle < 46; angle += 0.02 {
		v, err := tipBetween(1, angle)
		if err != nil {
			return 0, err
		}
		if a := cmplx.Abs(v); a < least {
			at, least = angle, a
		}
	}
	return at, nil
}
