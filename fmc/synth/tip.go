// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// halfPlane is the exact solution for plane waves at a crack with one tip: the other end is at
// infinity. The angular frequency is 1 rad/s. The axis X runs from the tip along the crack. The
// axis Y is the normal on the lit side.
//
// The normal and the tangential stress vanish on the faces. Ahead of the tip the displacement does
// not jump. By symmetry, the normal and the tangential problem separate. Each is a Wiener-Hopf
// problem with the Rayleigh function
//
//	R(s) = (2s² - 1/cT²)² - 4s²·√(s² - 1/cL²)·√(s² - 1/cT²)
//	     = -2(1/cT² - 1/cL²)·(s² - 1/cR²)·K(s),   K(s) = K₊(s)·K₊(-s)
//
// of the slowness s along X, with the speeds cL, cT and cR of longitudinal, transverse and Rayleigh
// waves. K₊ is analytic in the upper half plane. The method is by J. D. Achenbach, A. K. Gautesen
// and H. McMaken, Ray Methods for Waves in Elastic Solids, 1982. The formulas were derived again
// here.
type halfPlane struct {
	l, t, r float64   // slownesses of longitudinal, transverse and Rayleigh waves, s/m
	mu      float64   // shear modulus, Pa
	s       []float64 // nodes of the integral over the cut of K between l and t, s/m
	weight  []float64 // weights of the nodes
}

// newHalfPlane returns the solution for a valid, solid part.
func newHalfPlane(part material.Isotropic) *halfPlane {
	h := &halfPlane{
		l: 1 / part.Longitudinal, t: 1 / part.Transverse, r: 1 / part.Rayleigh(),
		mu: part.Density * part.Transverse * part.Transverse,
	}
	// With 24 nodes the error of K is 1e-9, see TestHalfPlaneFactor. The substitution of an angle
	// for s removes the square roots at both ends of the cut.
	const nodes = 24
	angle, weight := make([]float64, nodes), make([]float64, nodes)
	quad.Legendre{}.FixedLocations(angle, weight, 0, math.Pi)
	for i, a := range angle {
		sin, cos := math.Sincos(a)
		half := (h.t - h.l) / 2
		s := h.l + half*(1-cos)
		b := 2*s*s - h.t*h.t
		roots := math.Sqrt((s - h.l) * (s + h.l) * (h.t - s) * (h.t + s))
		cut := math.Atan2(4*s*s*roots, b*b)
		h.s = append(h.s, s)
		h.weight = append(h.weight, -cut/math.Pi*half*sin*weight[i])
	}
	return h
}

// plus returns K₊ at a real slowness between plus and minus the slowness of transverse waves.
func (h *halfPlane) plus(s float64) complex128 {
	if s < 0 {
		return h.rest(s) / h.plus(-s)
	}
	sum := 0.0
	for i, at := range h.s {
		sum += h.weight[i] / (at + s)
	}
	return complex(math.Exp(sum), 0)
}

// rest returns K at a real slowness in s/m.
func (h *halfPlane) rest(s float64) complex128 {
	b := 2*s*s - h.t*h.t
	// √(s² - k²) is positive for a wave that decays away from the crack. For a wave that travels
	// away it is -i times a positive number.
	root := func(k float64) complex128 { return cmplx.Conj(cmplx.Sqrt(complex((s-k)*(s+k), 0))) }
	rayleigh := complex(b*b, 0) - complex(4*s*s, 0)*root(h.l)*root(h.t)
	return rayleigh / complex(-2*(h.t*h.t-h.l*h.l)*(s-h.r)*(s+h.r), 0)
}

// inverse returns √(k + s)/((r + s)·K₊(s)) for a wave of slowness k. It is the inverse of the
// Wiener-Hopf factor that is analytic in the upper half plane.
func (h *halfPlane) inverse(k, s float64) complex128 {
	return cmplx.Sqrt(complex(k+s, 0)) / (complex(h.r+s, 0) * h.plus(s))
}

// jump returns the jumps of the displacement along X and along Y, each as the Fourier integral over
// X with exp(-isX). The incident wave has the slowness s0 along X. Without the crack, it would have
// the stresses i·normal and i·shear on the faces.
func (h *halfPlane) jump(s, s0, normal, shear float64) (x, y complex128) {
	scale := complex(0, 1) * complex(h.t*h.t/(h.mu*(h.t*h.t-h.l*h.l)*(s-s0)), 0)
	x = scale * complex(shear, 0) * h.inverse(h.t, s0) * h.inverse(h.t, -s)
	y = scale * complex(normal, 0) * h.inverse(h.l, s0) * h.inverse(h.l, -s)
	return x, y
}

// tip is the end of a crack. Its amplitude is the exact amplitude of a tip less the amplitude of
// the end of a face by Kirchhoff's approximation. The pieces of the face already contain the second
// one.
type tip struct {
	crack  *crack
	at     r3.Vec
	along  r3.Vec // unit vector from the tip along the crack
	normal r3.Vec // of the crack, either side
}

// Centre implements [Scatterer].
func (t *tip) Centre() (r3.Vec, bool) { return t.at, true }

// Scatter implements [Scatterer].
func (t *tip) Scatter(dst []complex128, in, out Wave) {
	c := t.crack
	s0 := r3.Dot(c.face.slowness(in), t.along)
	s := r3.Dot(c.face.slowness(out), t.along)
	// Towards the specular direction, s = s0, both amplitudes diverge. Their difference has a
	// limit.
	if least := 1e-4 * c.tips.t; math.Abs(s-s0) < least {
		s = s0 + math.Copysign(least, -s0)
	}
	amplitude := c.diffracted(in, out, t.normal, t.along, s, s0)
	edge := complex(0, -1/(s-s0)) // the integral of exp(i(s0 - s)X) over X from 0 on
	amplitude -= c.face.echo(wedge.Section, in, out, t.normal) * edge
	amplitude *= complex(c.scale(in, out), 0)
	lead := c.lead(in, out, t.normal, c.Width/2)
	for k, f := range c.around.Frequencies {
		dst[k] = amplitude * cmplx.Rect(1/math.Sqrt(2*math.Pi*f), -2*math.Pi*f*lead)
	}
}

// diffracted returns the exact amplitude of the tip of an endless crack, divided by ω^-½. The
// incident wave has the slowness s0 along the crack, the scattered wave the slowness s.
func (c *crack) diffracted(in, out Wave, normal, along r3.Vec, s, s0 float64) complex128 {
	normal = facing(in, normal)
	stress := r3.Scale(1/c.face.part.Speed(in.Mode), c.face.traction(in, normal))
	x, y := c.tips.jump(s, s0, r3.Dot(stress, normal), r3.Dot(stress, along))
	sent := c.face.traction(out, normal)
	work := x*complex(r3.Dot(sent, along), 0) + y*complex(r3.Dot(sent, normal), 0)
	return c.face.factor(wedge.Section, out.Mode) * work
}
