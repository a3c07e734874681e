// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"fmt"
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/material"
)

// LineForce returns the far-field displacement of the wave of mode that a line
// force sends into the half-space m on whose free surface it pushes, at angle
// from the normal (−π/2 to π/2). Both modes are in units of the longitudinal
// displacement straight ahead at the same distance; it falls with the square
// root of the distance. With κ = cL/cT and s = sin θ
//
//	L: cos θ·(1 − 2s²/κ²)/((1 − 2s²/κ²)² + 4s²·cos θ·√(κ² − s²)/κ⁴)
//	T: −κ^(3/2)·sin 2θ·g/(cos² 2θ + 4s²·cos θ·g),   g = √(1/κ² − s²)
//
// (from memory of Miller and Pursey, Proc. R. Soc. A 223, 1954, 521; the same
// divided by κ² is how the literature on arrays writes it).
//
// Phase and sign are those of [material.Boundary]: the time factor is
// exp(−iωt), g is +i·√(s² − 1/κ²) beyond the critical angle asin(1/κ), and T
// is positive for a displacement (cos θ, −sin θ). L is real. T is an odd function
// of the angle, 0 straight ahead and at the critical angle, and real below it.
//
// In a fluid L is cos θ and T is 0. The result is NaN for an invalid m, an angle
// out of range, or a mode that is neither L nor T.
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
	return complex(-2*sin*cos*math.Pow(r, -1.5), 0) * g / (complex(cos2*cos2, 0) + complex(4*sin*sin*cos, 0)*g)
}

// Element is one element of an array on the surface of Medium: a strip, long
// across the plane of the beam, that pushes on the surface with the same normal
// stress all over. On a solid that is an element in contact, or on its wedge; in
// a fluid it is one of a soft baffle.
type Element struct {
	Width     float64 // in the plane of the beam, in m, finite and above 0
	Frequency float64 // in Hz, finite and above 0
	Medium    material.Isotropic
}

// Validate reports the first field out of its range.
func (e Element) Validate() error {
	if !positive(e.Width) {
		return fmt.Errorf("beam: width of the element %v m: want a finite value above 0", e.Width)
	}
	if !positive(e.Frequency) {
		return fmt.Errorf("beam: frequency %v Hz: want a finite value above 0", e.Frequency)
	}
	if err := e.Medium.Validate(); err != nil {
		return fmt.Errorf("beam: medium of the element: %w", err)
	}
	return nil
}

// Directivity returns the far-field displacement of the wave of mode at angle
// from the element's normal (−π/2 to π/2), one-way, in units of the longitudinal
// wave straight ahead: that of a [LineForce] times that of a [Strip] in
// wavelengths of the mode. Reception has the same directivity, by reciprocity.
// It is NaN where LineForce is, and for an invalid e.
func (e Element) Directivity(mode material.Mode, angle float64) complex128 {
	if e.Validate() != nil {
		return cmplx.NaN()
	}
	force := LineForce(e.Medium, mode, angle)
	if cmplx.IsNaN(force) || force == 0 {
		return force
	}
	return force * complex(stripPattern(e.Width*e.Frequency/e.Medium.Speed(mode)*math.Sin(angle)), 0)
}

// WedgeElement is an element on a wedge, whose longitudinal waves cross the
// contact face into the part.
type WedgeElement struct {
	Element Element            // its Medium is the wedge, or the water before the part
	Tilt    float64            // angle from the normal of the contact face to the direction straight ahead of the element, in rad, −π/2 to π/2; above 0 it fires towards +x
	Part    material.Isotropic // below the contact face
	Contact material.Contact   // a wedge with couplant is material.LiquidFilm
}

// Validate reports the first field out of its range.
func (w WedgeElement) Validate() error {
	_, err := w.boundary()
	return err
}

func (w WedgeElement) boundary() (material.Boundary, error) {
	if err := w.Element.Validate(); err != nil {
		return material.Boundary{}, err
	}
	if !steered(w.Tilt) {
		return material.Boundary{}, fmt.Errorf("beam: tilt of the element %v rad: want −π/2 to π/2", w.Tilt)
	}
	b, err := material.NewBoundary(w.Element.Medium, w.Part, w.Contact)
	if err != nil {
		return material.Boundary{}, fmt.Errorf("beam: contact face: %w", err)
	}
	return b, nil
}

// Directivity returns the displacement of the wave of mode in the part at angle
// from the normal of the contact face (−π/2 to π/2), one-way, in units of the
// longitudinal wave that the element sends straight ahead into the wedge: the
// element's directivity at the angle from which Snell's law leads there, times
// the displacement coefficient of the contact face. It says which beam angles
// the element reaches. The spreading of the rays, which depends on the two path
// lengths, is not in it.
//
// It is 0 for T in a fluid part. It is NaN for an invalid w or angle, and for
// angles that no longitudinal wave in the wedge leads to.
func (w WedgeElement) Directivity(mode material.Mode, angle float64) complex128 {
	b, err := w.boundary()
	if err != nil || !steered(angle) || mode > material.T {
		return cmplx.NaN()
	}
	if mode == material.T && w.Part.Fluid() {
		return 0
	}
	incidence := material.Refract(angle, w.Part.Speed(mode), w.Element.Medium.Longitudinal)
	if math.IsNaN(incidence) {
		return cmplx.NaN()
	}
	out, err := b.Scatter(material.L, math.Abs(incidence))
	if err != nil {
		return cmplx.NaN()
	}
	transmitted := out.Displacement.Transmitted[mode]
	if mode == material.T && incidence < 0 {
		transmitted = -transmitted // the mirror image turns the sign of T
	}
	return w.Element.Directivity(material.L, incidence-w.Tilt) * transmitted
}
