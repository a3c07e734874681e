// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "math"

// Rayleigh returns the speed in m/s of Rayleigh (surface) waves on a free, flat face of a body of m
// that is much thicker than the wavelength. The speed does not depend on the frequency. It is 0
// for a fluid. Its relative error is below 1e-13.
//
// The ratio cR/cT runs from 0.6889 at Poisson's ratio ν = −1 to 0.9553 at ν = 0.5. Its square ξ is
// the one root between 0 and 1 of
//
//	ξ³ − 8ξ² + (24 − 16κ)·ξ − 16·(1 − κ) = 0,   κ = (cT/cL)² = (1 − 2ν)/(2·(1 − ν))
//
// (Rayleigh, Proc. London Math. Soc. 17, 1885, 4).
func (m Isotropic) Rayleigh() float64 {
	k := m.Transverse / m.Longitudinal
	return m.Transverse * math.Sqrt(rayleighRoot(k*k))
}

// rayleighRoot returns ξ = (cR/cT)² for kappa = (cT/cL)² from 0 to 3/4.
//
// On [0, 1] the cubic is concave, below 0 at the left end and above 0 at the right end. Newton's
// method that starts at 0 therefore rises to the root and never passes it, for every kappa: no
// bracket is needed. Seven steps reach the root. The number of steps is fixed, because rounding may
// make the last steps alternate.
func rayleighRoot(kappa float64) float64 {
	var xi float64
	for range 10 {
		f := ((xi-8)*xi+(24-16*kappa))*xi - 16*(1-kappa)
		df := (3*xi-16)*xi + (24 - 16*kappa)
		xi -= f / df
	}
	return xi
}
