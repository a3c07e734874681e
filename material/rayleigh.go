// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "math"

// Rayleigh returns the speed in m/s of surface waves on a free, flat, half
// infinite body of m, which does not depend on frequency; it is 0 for a fluid.
// It is as exact as [RayleighRatio].
func (m Isotropic) Rayleigh() float64 {
	k := m.Transverse / m.Longitudinal
	return m.Transverse * math.Sqrt(rayleighRoot(k*k))
}

// RayleighRatio returns the speed of Rayleigh waves divided by that of
// transverse waves in a solid of the given Poisson's ratio ν, −1 ≤ ν ≤ 0.5 (from
// 0.6889 to 0.9553); it is NaN outside that range. The result is good to 1e-14.
//
// Its square ξ is the one root in (0, 1) of
//
//	ξ³ − 8ξ² + (24 − 16κ)·ξ − 16·(1 − κ) = 0,   κ = (cT/cL)² = (1 − 2ν)/(2·(1 − ν))
//
// (Rayleigh, Proc. London Math. Soc. 17, 1885, 4).
func RayleighRatio(poisson float64) float64 {
	if !(poisson >= -1 && poisson <= 0.5) {
		return math.NaN()
	}
	return math.Sqrt(rayleighRoot((1 - 2*poisson) / (2 * (1 - poisson))))
}

// rayleighRoot returns ξ = (cR/cT)² for kappa = (cT/cL)² from 0 to 3/4.
//
// On [0, 1] the cubic is concave, below 0 at the left end and above 0 at the
// right, so that Newton's method started at 0 climbs to the root from below
// without ever passing it, whatever kappa: no bracket is needed. Seven steps
// settle it; rounding may make the last ones hover, hence the fixed number.
func rayleighRoot(kappa float64) float64 {
	var xi float64
	for range 10 {
		f := ((xi-8)*xi+(24-16*kappa))*xi - 16*(1-kappa)
		df := (3*xi-16)*xi + (24 - 16*kappa)
		xi -= f / df
	}
	return xi
}

// RayleighViktorov returns the estimate (0.87 + 1.12ν)/(1 + ν) of
// [RayleighRatio] (Viktorov's, quoted after Rose). Within 0 ≤ ν ≤ 0.5 it is from
// 0.47 % below to 0.08 % above the exact ratio; outside it is NaN.
func RayleighViktorov(poisson float64) float64 {
	if !(poisson >= 0 && poisson <= 0.5) {
		return math.NaN()
	}
	return (0.87 + 1.12*poisson) / (1 + poisson)
}

// RayleighFreund returns the estimate (0.862 + 1.14ν)/(1 + ν) of
// [RayleighRatio] (from memory of Freund, Dynamic Fracture Mechanics, 1990).
// Within 0 ≤ ν ≤ 0.5 it is from 1.38 % to 0.06 % below the exact ratio, the more
// the smaller ν; outside it is NaN.
func RayleighFreund(poisson float64) float64 {
	if !(poisson >= 0 && poisson <= 0.5) {
		return math.NaN()
	}
	return (0.862 + 1.14*poisson) / (1 + poisson)
}

// RayleighMalischewsky returns the estimate 0.874 + 0.196ν − 0.043ν² − 0.055ν³
// of [RayleighRatio] (Malischewsky, 2005). Within 0 ≤ ν ≤ 0.5 it is from 0.1 %
// below to 0.006 % above the exact ratio; outside it is NaN.
func RayleighMalischewsky(poisson float64) float64 {
	if !(poisson >= 0 && poisson <= 0.5) {
		return math.NaN()
	}
	return 0.874 + poisson*(0.196-poisson*(0.043+poisson*0.055))
}
