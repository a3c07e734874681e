// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package amplitude

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/integrate/quad"

	"github.com/isochron-imaging/isochron/material/beam"
)

// nearest is the shortest distance of a reflector in near-field lengths. Closer to the probe the
// field has so many maxima that no pulse follows the law of one frequency.
const nearest = 0.1

// wallEcho returns the mean pressure on the probe of the echo of a plane wall, relative to the
// pressure at the face of the probe, at the distance a in near-field lengths:
//
//	H = |1 − exp(−iπ/a)·(J0(π/a) + i·J1(π/a))|
//
// (P. H. Rogers and A. L. Van Buren, J. Acoust. Soc. Am. 55, 1974, 724; the formula from memory,
// compared with an independent integral). Far away it is π/(2a).
func wallEcho(a float64) float64 {
	x := math.Pi / a
	return cmplx.Abs(1 - cmplx.Exp(complex(0, -x))*complex(math.J0(x), math.J1(x)))
}

// discEcho returns the mean pressure on the probe of the echo of a disc on the axis, in the unit of
// wallEcho. The disc has the diameter g in diameters of the probe and lies at the distance a in
// near-field lengths. In Kirchhoff's approximation and by reciprocity
//
//	H = 2·|∫ p²(t)·t dt|, t from 0 to g,
//
// with the pressure p at the distance t from the axis, in radii of the probe. Near the axis this is
// 4g²·sin²(π/(2a)), and far away π²g²/a².
func discEcho(a, g float64) float64 {
	// Multiples of 16 keep clear of 26 nodes, whose weights in gonum v0.17.0 sum to 0.989.
	n := 16 * (2 + int((1+g)/a))
	x, w := make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, 0, 1)
	var sum complex128
	for i := range x {
		t := g * x[i]
		p := discPressure(a, t, x, w)
		sum += complex(w[i]*g*t, 0) * p * p
	}
	return 2 * cmplx.Abs(sum)
}

// discPressure returns the pressure of a disc at the distance t from its axis, in radii, by
// Fresnel's integral over the disc. The nodes x with the weights w lie from 0 to 1.
func discPressure(a, t float64, x, w []float64) complex128 {
	var sum complex128
	for i, s := range x {
		amplitude := w[i] * s * math.J0(2*math.Pi*s*t/a)
		sum += complex(amplitude, 0) * cmplx.Exp(complex(0, math.Pi*(s*s+t*t)/a))
	}
	return complex(2*math.Pi/a, 0) * sum
}

// fresnelZone returns the echo of a strip across the beam relative to a wall at the same distance:
// |∫ exp(2πi·x²/(λs)) dx|·√(2/(λs)), x from −e/2 to e/2, with the width e and the distance s. A
// narrow strip has e·√(2/(λs)), a wide strip 1.
func fresnelZone(width, distance, wavelength float64) float64 {
	// With x = u·√(λs/2) the integral is √(λs/2)·∫ exp(iπu²) du, u from −half to half.
	half := width / math.Sqrt(2*wavelength*distance)
	const widest = 6 // where the echo is within 6 % of a wall
	if half > widest {
		return 1
	}
	integral := func(part func(float64) float64) float64 {
		return quad.Fixed(func(u float64) float64 { return part(math.Pi * u * u) }, 0, half, 96, quad.Legendre{}, 1)
	}
	return 2 * math.Hypot(integral(math.Cos), integral(math.Sin))
}

// near returns a distance in near-field lengths of the probe.
func near(probe beam.Disc, distance float64) (float64, error) {
	length := probe.NearField()
	if math.IsNaN(length) {
		return 0, fmt.Errorf("amplitude: probe of diameter %v m at a wavelength of %v m: want finite values above 0", probe.Diameter, probe.Wavelength)
	}
	a := distance / length
	if !(a >= nearest) || math.IsInf(a, 0) {
		return 0, fmt.Errorf("amplitude: distance %v m: want at least %v m, %v near-field lengths, and finite", distance, nearest*length, nearest)
	}
	return a, nil
}
