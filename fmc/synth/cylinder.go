// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/internal/bessel"
	"github.com/isochron-imaging/isochron/material"
)

// cylinder holds the far field of a cylindrical cavity at one frequency, as the amplitudes of the
// partial waves cos nθ or sin nθ.
type cylinder struct {
	// amplitude[in][out][n] is the amplitude of order n from mode in to mode out, in √m.
	amplitude [2][2][]complex128
}

// newCylinder returns the exact solution for a cavity of the given radius (m) at a frequency (Hz).
// The displacement at the polar coordinates r and θ is
//
//	u_r = ∂φ/∂r + (1/r)·∂ψ/∂θ,   u_θ = (1/r)·∂φ/∂θ - ∂ψ/∂r
//
// with the potentials φ of the longitudinal and ψ of the transverse wave. Each potential is a
// series of partial waves of Hankel functions. For each order, the traction on the wall is 0. The
// method follows Y.-H. Pao and C.-C. Mow, Diffraction of Elastic Waves and Dynamic Stress
// Concentrations, 1973, cited from memory.
func newCylinder(m material.Isotropic, radius, frequency float64) cylinder {
	omega := 2 * math.Pi * frequency
	kl, kt := omega/m.Longitudinal, omega/m.Transverse
	x, y := kl*radius, kt*radius
	// Orders above the argument decay faster than exponentially.
	orders := int(math.Ceil(y+6*math.Cbrt(y))) + 6
	var c cylinder
	far := func(k float64) complex128 { return cmplx.Rect(math.Sqrt(2/(math.Pi*k)), -math.Pi/4) }
	besselL, hankelL := cylinderFunctions(orders, x)
	besselT, hankelT := cylinderFunctions(orders, y)
	for n := range orders {
		jl, hl, jt, ht := besselL[n], hankelL[n], besselT[n], hankelT[n]
		neumann := complex(2, 0)
		if n == 0 {
			neumann = 1
		}
		// For an incident L wave, φ has cos nθ and ψ has sin nθ. For an incident T wave, φ has sin
		// nθ and ψ has cos nθ: the terms that couple both potentials change their sign.
		a := [2][2]complex128{
			{jl.normal(n, y), complex(float64(n), 0) * jt.cross()},
			{complex(-float64(n), 0) * jl.cross(), jt.shear(n, y)},
		}
		h := [2][2]complex128{
			{hl.normal(n, y), complex(float64(n), 0) * ht.cross()},
			{complex(-float64(n), 0) * hl.cross(), ht.shear(n, y)},
		}
		det := h[0][0]*h[1][1] - h[0][1]*h[1][0]
		solve := func(p, q, h01, h10 complex128) (phi, psi complex128) {
			return (h01*q - h[1][1]*p) / det, (h10*p - h[0][0]*q) / det
		}
		ll, lt := solve(a[0][0], a[1][0], h[0][1], h[1][0])
		tl, tt := solve(-a[0][1], a[1][1], -h[0][1], -h[1][0])
		keep := func(in, out material.Mode, v complex128) {
			c.amplitude[in][out] = append(c.amplitude[in][out], v*neumann)
		}
		ratio := complex(m.Longitudinal/m.Transverse, 0) // kt/kl
		keep(material.L, material.L, far(kl)*ll)
		keep(material.L, material.T, -far(kt)*lt*ratio)
		keep(material.T, material.L, -far(kl)*tl/ratio)
		keep(material.T, material.T, far(kt)*tt)
	}
	return c
}

// at returns the displacement of the scattered wave times the square root of the distance, in √m.
// The harmonics belong to the angle θ from the direction of the incident wave. A positive
// displacement of a transverse wave points along θ.
func (c *cylinder) at(in, out material.Mode, h harmonics) complex128 {
	factors := h.sin
	if in == out {
		factors = h.cos
	}
	var re, im float64
	for n, v := range c.amplitude[in][out] {
		re += real(v) * factors[n]
		im += imag(v) * factors[n]
	}
	return complex(re, im)
}

// harmonics holds cos nθ and sin nθ for n from 0 on.
type harmonics struct{ cos, sin []float64 }

// newHarmonics returns the harmonics of an angle for the orders from 0 to orders-1.
func newHarmonics(angle float64, orders int) harmonics {
	h := harmonics{make([]float64, orders), make([]float64, orders)}
	for n := range orders {
		h.sin[n], h.cos[n] = math.Sincos(float64(n) * angle)
	}
	return h
}

// orders returns the number of partial waves.
func (c *cylinder) orders() int { return len(c.amplitude[material.L][material.L]) }

// cylinderFunction is a Bessel or Hankel function Z at an argument x, and x·Z'.
type cylinderFunction struct{ value, slope complex128 }

// cylinderFunctions returns the functions J and H⁽¹⁾ of the orders from 0 to n-1.
func cylinderFunctions(n int, x float64) (j, h []cylinderFunction) {
	js, ys := make([]float64, n+1), make([]float64, n+1)
	bessel.J(js, x)
	ys[0], ys[1] = math.Y0(x), math.Y1(x)
	for k := 2; k <= n; k++ { // stable upwards
		ys[k] = 2*float64(k-1)/x*ys[k-1] - ys[k-2]
	}
	slope := func(k int, f []float64) float64 { return float64(k)*f[k] - x*f[k+1] }
	for k := range n {
		j = append(j, cylinderFunction{complex(js[k], 0), complex(slope(k, js), 0)})
		h = append(h, cylinderFunction{complex(js[k], ys[k]), complex(slope(k, js), slope(k, ys))})
	}
	return j, h
}

// The tractions at the wall for y = kT·r, in units of 2μ/r², are
//
//	normal       cos nθ · (normal(φ) + n·cross(ψ))
//	tangential   sin nθ · (shear(ψ) - n·cross(φ))
//
// with the methods normal, shear and cross of a cylinderFunction.

func (f cylinderFunction) normal(n int, y float64) complex128 {
	return complex(float64(n*n)-y*y/2, 0)*f.value - f.slope
}

func (f cylinderFunction) shear(n int, y float64) complex128 {
	return f.slope - complex(float64(n*n)-y*y/2, 0)*f.value
}

func (f cylinderFunction) cross() complex128 { return f.slope - f.value }
