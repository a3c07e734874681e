// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package diffraction

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/integrate/quad"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
)

// Tip is the exact solution for plane waves at the straight edge of an open crack in a solid: a
// half plane without traction on its faces. [NewTip] makes it. It is immutable and safe for
// concurrent use.
//
// The axis X runs from the tip along the crack, the axis Y is a normal of the crack. The normal and
// the tangential stress vanish on the faces. Ahead of the tip the displacement does not jump. By
// symmetry, the normal and the tangential problem separate. Each is a Wiener-Hopf problem with the
// Rayleigh function
//
//	R(s) = (2s² - 1/cT²)² - 4s²·√(s² - 1/cL²)·√(s² - 1/cT²)
//	     = -2(1/cT² - 1/cL²)·(s² - 1/cR²)·K(s),   K(s) = K₊(s)·K₊(-s)
//
// of the slowness s along X, with the speeds cL, cT and cR of longitudinal, transverse and Rayleigh
// waves. K₊ is analytic in the upper half plane. The method is by J. D. Achenbach, A. K. Gautesen
// and H. McMaken, Ray Methods for Waves in Elastic Solids, 1982 (cited from memory). The formulas
// were derived again here.
type Tip struct {
	medium  material.Isotropic
	l, t, r float64   // slownesses of longitudinal, transverse and Rayleigh waves, s/m
	mu      float64   // shear modulus, Pa
	s       []float64 // nodes of the integral over the cut of K between l and t, s/m
	weight  []float64 // weights of the nodes
}

// NewTip returns the solution for a solid. A fluid, or a medium that is not valid, is an error.
func NewTip(m material.Isotropic) (*Tip, error) {
	if err := m.Validate(); err != nil {
		return nil, fmt.Errorf("diffraction: %w", err)
	}
	if m.Fluid() {
		return nil, errors.New("diffraction: crack in a fluid: want a solid")
	}
	h := &Tip{
		medium: m,
		l:      1 / m.Longitudinal, t: 1 / m.Transverse, r: 1 / m.Rayleigh(),
		mu: m.ShearModulus(),
	}
	// With 24 nodes the error of K is 1e-9, see TestFactor. The substitution of an angle for s
	// removes the square roots at both ends of the cut.
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
	return h, nil
}

// plus returns K₊ at a real slowness between plus and minus the slowness of transverse waves.
func (h *Tip) plus(s float64) complex128 {
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
func (h *Tip) rest(s float64) complex128 {
	b := 2*s*s - h.t*h.t
	// √(s² - k²) is positive for a wave that decays away from the crack. For a wave that travels
	// away it is -i times a positive number.
	root := func(k float64) complex128 { return cmplx.Conj(cmplx.Sqrt(complex((s-k)*(s+k), 0))) }
	rayleigh := complex(b*b, 0) - complex(4*s*s, 0)*root(h.l)*root(h.t)
	return rayleigh / complex(-2*(h.t*h.t-h.l*h.l)*(s-h.r)*(s+h.r), 0)
}

// inverse returns √(k + s)/((r + s)·K₊(s)) for a wave of slowness k. It is the inverse of the
// Wiener-Hopf factor that is analytic in the upper half plane.
func (h *Tip) inverse(k, s float64) complex128 {
	return cmplx.Sqrt(complex(k+s, 0)) / (complex(h.r+s, 0) * h.plus(s))
}

// Jump returns the jumps of the displacement along X and along Y, each as the Fourier integral over
// X with exp(-isX), for the angular frequency 1 rad/s. The incident wave has the slowness s0 along
// X. Without the crack, it would have the stresses i·normal and i·shear (Pa) on the faces. Both
// slownesses are in s/m, and differ. Their moduli are at most the slowness of transverse waves.
func (h *Tip) Jump(s, s0, normal, shear float64) (x, y complex128) {
	scale := complex(0, 1) * complex(h.t*h.t/(h.mu*(h.t*h.t-h.l*h.l)*(s-s0)), 0)
	x = scale * complex(shear, 0) * h.inverse(h.t, s0) * h.inverse(h.t, -s)
	y = scale * complex(normal, 0) * h.inverse(h.l, s0) * h.inverse(h.l, -s)
	return x, y
}

// Coefficient returns the diffraction coefficient D of the tip for an incident wave of one mode and
// a diffracted wave of the same or the other mode. At the distance r from the tip the diffracted
// displacement is
//
//	u = u₀ · D · √(λ/r) · exp(ikr)
//
//	u₀   displacement of the incident wave at the tip
//	λ    wavelength of the diffracted wave
//	k    2π/λ
//
// with the time factor exp(-iωt). The distance must be many wavelengths. D does not depend on the
// frequency.
//
// The angles source and receiver are the directions from the tip to the source and to the receiver.
// Both are in radians from the crack: from X towards Y, any finite value. Angles between 0 and π
// are on one side of the crack, angles between -π and 0 on the other side. An L wave has a positive
// displacement along its direction of travel. A T wave has a positive displacement along its
// direction of travel turned by 90° from X towards Y.
//
// The modulus of D grows without limit towards the specular direction and towards the edge of the
// shadow. There a plane wave returns, not a tip echo. In these directions D is infinite or NaN.
func (h *Tip) Coefficient(in, out material.Mode, source, receiver float64) complex128 {
	return h.radiate(in, out, source, receiver, h.Jump)
}

// radiate returns the coefficient of a crack whose faces move by the given jump: a function with
// the arguments and results of [Tip.Jump].
func (h *Tip) radiate(in, out material.Mode, source, receiver float64,
	jump func(s, s0, normal, shear float64) (x, y complex128),
) complex128 {
	incident := ray{-math.Cos(source), -math.Sin(source)}
	diffracted := ray{math.Cos(receiver), math.Sin(receiver)}
	speed0, speed := h.medium.Speed(in), h.medium.Speed(out)
	shear0, normal0 := h.traction(in, incident)
	shear, normal := h.traction(out, diffracted)
	x, y := jump(diffracted.x/speed, incident.x/speed0, normal0/speed0, shear0/speed0)
	work := x*complex(shear, 0) + y*complex(normal, 0)
	return cmplx.Rect(1/(4*math.Pi*h.medium.Density*speed*speed*speed), -math.Pi/4) * work
}

// Slit returns the coefficient of the end of a slit instead of a sharp tip, such as a saw cut or a
// machined notch. Modes and angles are the arguments of [Tip.Coefficient]. The opening is the width
// of the slit in wavelengths of transverse waves: 0 to about 0.25. Slit returns Coefficient for an
// opening of 0.
//
// A flat face of the width of the slit closes the slit. Slit adds the echo of this face by
// Kirchhoff's approximation, and shifts both faces of the slit by half its width. From ahead of the
// tip, a slit of a fifth of a wavelength echoes up to 10 dB more than a sharp tip, and with another
// phase.
func (h *Tip) Slit(in, out material.Mode, source, receiver, opening float64) complex128 {
	d := h.Coefficient(in, out, source, receiver)
	if opening == 0 {
		return d
	}
	if from, to := math.Sin(source), math.Sin(receiver); from*to > 0 { // both see the same face
		path := opening * h.medium.Transverse / 2 // over the wavelengths of the waves
		lead := path * (math.Abs(from)/h.medium.Speed(in) + math.Abs(to)/h.medium.Speed(out))
		d *= cmplx.Rect(1, -2*math.Pi*lead)
	}
	width := opening * h.medium.Transverse / h.medium.Speed(out) // in wavelengths of the diffracted wave
	// The end runs across the slit. Its outside is the direction -X, at π/2 from the end.
	from, to := source-math.Pi/2, receiver-math.Pi/2
	slope := math.Cos(from)/h.medium.Speed(in) + math.Cos(to)/h.medium.Speed(out)
	width *= number.Sinc(slope * opening * h.medium.Transverse)
	return d + complex(width, 0)*h.face(in, out, from, to)
}

// face returns the coefficient of a face of a width of one wavelength, as [Tip.Coefficient] defines
// it, by Kirchhoff's approximation. The angles are measured from the face. Only the side between 0
// and π is a face. The approximation is not reciprocal, so face returns the mean of both
// directions.
func (h *Tip) face(in, out material.Mode, source, receiver float64) complex128 {
	if math.Sin(source) <= 0 || math.Sin(receiver) <= 0 {
		return 0
	}
	back := h.medium.Speed(in) / h.medium.Speed(out) // by reciprocity, for a width of the same wavelength
	return (h.lit(in, out, source, receiver) + complex(back, 0)*h.lit(out, in, receiver, source)) / 2
}

// lit returns the coefficient of a face in one direction.
func (h *Tip) lit(in, out material.Mode, source, receiver float64) complex128 {
	incident := ray{-math.Cos(source), -math.Sin(source)}
	speed0, speed := h.medium.Speed(in), h.medium.Speed(out)
	shear0, normal0 := h.traction(in, incident)
	shear, normal := h.traction(out, ray{math.Cos(receiver), math.Sin(receiver)})
	// An endless face moves as the residue of the jump says.
	s0 := incident.x / speed0
	off := 1e-7 * h.t
	x, y := h.Jump(s0+off, s0, normal0/speed0, shear0/speed0)
	moved := x*complex(shear, 0) + y*complex(normal, 0)
	moved *= complex(0, off)
	density := h.medium.Density * speed * speed
	return cmplx.Rect(1/(2*density), -math.Pi/4) * moved
}

// ray is a unit vector along X and Y.
type ray struct{ x, y float64 }

// traction returns the traction of a wave on a plane whose normal is Y, along X and along Y. It is
// divided by the displacement of the wave and by ik, with its wave number k. With the other normal,
// the tractions along X of both waves change their sign, and their product does not.
func (h *Tip) traction(mode material.Mode, d ray) (shear, normal float64) {
	if mode == material.L {
		lambda := h.medium.Density*h.medium.Longitudinal*h.medium.Longitudinal - 2*h.mu
		return 2 * h.mu * d.x * d.y, lambda + 2*h.mu*d.y*d.y
	}
	p := ray{-d.y, d.x} // polarisation
	return h.mu * (d.y*p.x + p.y*d.x), 2 * h.mu * d.y * p.y
}
