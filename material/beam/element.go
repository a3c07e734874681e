// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"fmt"
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
)

// LineForce returns the far-field displacement of the wave of mode that a line force sends into the
// half-space m. The force pushes on the free surface of m. The direction is at angle from the
// normal, in radians from −π/2 to π/2. The unit, for both modes, is the longitudinal displacement
// straight ahead at the same distance; it falls with the square root of the distance. With κ =
// cL/cT and s = sin θ
//
//	L: cos θ·(1 − 2s²/κ²)/((1 − 2s²/κ²)² + 4s²·cos θ·√(κ² − s²)/κ⁴)
//	T: −κ^(3/2)·sin 2θ·g/(cos² 2θ + 4s²·cos θ·g),   g = √(1/κ² − s²)
//
// (from memory of Miller and Pursey, Proc. R. Soc. A 223, 1954, 521; the literature on arrays
// writes the same formulas divided by κ²).
//
// Phase and sign follow [material.Boundary]. The time factor is exp(−iωt). Beyond the critical
// angle asin(1/κ), g is +i·√(s² − 1/κ²). T is positive for a displacement (cos θ, −sin θ). L is
// real. T is an odd function of the angle, 0 straight ahead and at the critical angle, and real
// below the critical angle.
//
// In a fluid L is cos θ and T is 0. The result is NaN for an invalid m, an angle outside its range,
// or a mode other than L and T.
func LineForce(m material.Isotropic, mode material.Mode, angle float64) complex128 {
	if m.Validate() != nil || !steered(angle) || mode > material.T {
		return cmplx.NaN()
	}
	r := m.Transverse / m.Longitudinal // 1/κ
	sin, cos := math.Sincos(angle)
	if mode == material.L {
		rs := r * sin
		a := 1 - 2*rs*rs
		return complex(cos*a/(a*a+4*r*rs*rs*cos*math.Sqrt(1-rs*rs)), 0)
	}
	if m.Fluid() {
		return 0
	}
	g := cmplx.Sqrt(complex((r-sin)*(r+sin), 0)) // the root with an imaginary part of 0 or above
	cos2 := (cos - sin) * (cos + sin)
	sum := complex(cos2*cos2, 0) + complex(4*sin*sin*cos, 0)*g
	return complex(-2*sin*cos*math.Pow(r, -1.5), 0) * g / sum
}

// ContactElement is one element of an array on the surface of Medium. It is a strip, long across
// the plane of the beam, that applies the same normal stress over its whole width. On a solid it is
// an element in contact with the part or with its wedge. In a fluid it is an element in a soft
// baffle.
type ContactElement struct {
	Width     float64 // in the plane of the beam, in m, finite and above 0
	Frequency float64 // in Hz, finite and above 0
	Medium    material.Isotropic
}

func (e ContactElement) check() error {
	if !number.Positive(e.Width) {
		return fmt.Errorf("beam: width of the element %v m: want a finite value above 0", e.Width)
	}
	if !number.Positive(e.Frequency) {
		return fmt.Errorf("beam: frequency %v Hz: want a finite value above 0", e.Frequency)
	}
	if err := e.Medium.Validate(); err != nil {
		return fmt.Errorf("beam: medium of the element: %w", err)
	}
	return nil
}

// Directivity returns the far-field displacement of one pass of the wave of mode, at angle from the
// normal of the element (radians, −π/2 to π/2). The unit is the longitudinal wave straight ahead.
// The result is the displacement of a [LineForce] times the directivity of a [Strip] at the
// wavelength of the mode. Reception has the same directivity, by reciprocity. The result is NaN
// where LineForce is NaN, and for a field of e outside its range.
func (e ContactElement) Directivity(mode material.Mode, angle float64) complex128 {
	if e.check() != nil {
		return cmplx.NaN()
	}
	force := LineForce(e.Medium, mode, angle)
	if cmplx.IsNaN(force) || force == 0 {
		return force
	}
	strip := stripPattern(e.Width * e.Frequency / e.Medium.Speed(mode) * math.Sin(angle))
	return force * complex(strip, 0)
}

// WedgeElement is an element on a wedge, or in water before the part. Its longitudinal waves cross
// the contact face into the part.
type WedgeElement struct {
	Element ContactElement // Element.Medium is the wedge, or the water before the part

	// Tilt is the angle in radians, −π/2 to π/2, from the normal of the contact face to the normal
	// of the element. Above 0 the element fires towards +x.
	Tilt float64

	Part    material.Isotropic // below the contact face
	Contact material.Contact   // material.LiquidFilm for a wedge with couplant
}

// boundary checks w and returns its contact face.
func (w WedgeElement) boundary() (material.Boundary, error) {
	if err := w.Element.check(); err != nil {
		return material.Boundary{}, err
	}
	if !steered(w.Tilt) {
		return material.Boundary{}, fmt.Errorf(
			"beam: tilt of the element %v rad: want −π/2 to π/2", w.Tilt)
	}
	b, err := material.NewBoundary(w.Element.Medium, w.Part, w.Contact)
	if err != nil {
		return material.Boundary{}, fmt.Errorf("beam: contact face: %w", err)
	}
	return b, nil
}

// Directivity returns the displacement of one pass of the wave of mode in the part, at angle from
// the normal of the contact face (radians, −π/2 to π/2). The unit is the longitudinal wave that the
// element sends straight ahead into the wedge. The result is the directivity of the element, at the
// angle that Snell's law gives, times the displacement coefficient of the contact face. It shows
// which beam angles the element reaches. The spread of the rays depends on both path lengths and is
// not included.
//
// The result is 0 for T in a fluid part. It is NaN for an angle that no longitudinal wave in the
// wedge reaches. The error names a field of w, an angle or a mode outside its range.
func (w WedgeElement) Directivity(mode material.Mode, angle float64) (complex128, error) {
	b, err := w.boundary()
	if err != nil {
		return 0, err
	}
	if !steered(angle) {
		return 0, fmt.Errorf("beam: angle %v rad: want −π/2 to π/2", angle)
	}
	if mode > material.T {
		return 0, fmt.Errorf("beam: mode %v: want L or T", mode)
	}
	if mode == material.T && w.Part.Fluid() {
		return 0, nil
	}
	incidence := material.Refract(angle, w.Part.Speed(mode), w.Element.Medium.Longitudinal)
	if math.IsNaN(incidence) {
		return cmplx.NaN(), nil
	}
	out, err := b.Scatter(material.L, math.Abs(incidence))
	if err != nil {
		return 0, err
	}
	transmitted := out.Displacement.Transmitted[mode]
	if mode == material.T && incidence < 0 {
		transmitted = -transmitted // the mirror image reverses the sign of T
	}
	return w.Element.Directivity(material.L, incidence-w.Tilt) * transmitted, nil
}
