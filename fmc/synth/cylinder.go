// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/material"
)

// cylinder holds, at one frequency, what a cylindrical cavity scatters: the
// amplitudes of the partial waves cos nθ or sin nθ, for the far field of each
// mode into each.
type cylinder struct {
	// amplitude[in][out][n] is that of order n, in √m.
	amplitude [2][2][]complex128
}

// newCylinder returns the exact solution for a cavity of the given radius (m) at
// a frequency (Hz): potentials φ of the longitudinal and ψ of the transverse wave,
//
//	u_r = ∂φ/∂r + (1/r)·∂ψ/∂θ,   u_θ = (1/r)·∂φ/∂θ - ∂ψ/∂r,
//
// in partial waves of Hankel functions, and no traction on the wall, order by
// order (after Y.-H. Pao and C.-C. Mow, Diffraction of Elastic Waves and Dynamic
// Stress Concentrations, 1973, cited from memory).
func newCylinder(m material.Isotropic, radius, frequency float64) cylinder {
	omega := 2 * math.Pi * frequency
	kl, kt := omega/m.Longitudinal, omega/m.Transverse
	x, y := kl*radius, kt*radius
	// Beyond the argument, partial waves die out faster than exponentially.
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
		// An incident L wave goes with cos nθ in φ and sin nθ in ψ, an incident T wave
		// the other way round, which turns the sign of what couples the two.
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

// at returns the displacement of the scattered wave, times the square root of the
// distance, at the angle from the direction of the incident wave whose harmonics
// are given. Its positive direction is that of θ for transverse waves.
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

// cylinderFunctions returns those of the orders from 0 to n-1, J and H⁽¹⁾.
func cylinderFunctions(n int, x float64) (j, h []cylinderFunction) {
	// Recurrence is stable downwards for J and upwards for Y. A few orders at once
	// keep J right where x is so small that the highest vanishes.
	js, ys := make([]float64, n+1), make([]float64, n+1)
	ys[0], ys[1] = math.Y0(x), math.Y1(x)
	for k := 2; k <= n; k++ {
		ys[k] = 2*float64(k-1)/x*ys[k-1] - ys[k-2]
	}
	for k := n; k >= 0; k-- {
		if k > n-2 || js[k+1] == 0 || js[k+2] == 0 {
			js[k] = math.Jn(k, x)
		} else {
			js[k] = 2*float64(k+1)/x*js[k+1] - js[k+2]
		}
	}
	slope := func(k int, f []float64) float64 { return float64(k)*f[k] - x*f[k+1] }
	for k := range n {
		j = append(j, cylinderFunction{complex(js[k], 0), complex(slope(k, js), 0)})
		h = append(h, cylinderFunction{complex(js[k], ys[k]), complex(slope(k, js), slope(k, ys))})
	}
	return j, h
}

// The tractions at the wall are, in units of 2μ/r² and for y = kT·r: normal,
// cos nθ times normal of φ plus n times cross of ψ; tangential, sin nθ times
// shear of ψ minus n times cross of φ.

func (f cylinderFunction) normal(n int, y float64) complex128 {
	return complex(float64(n*n)-y*y/2, 0)*f.value - f.slope
}

func (f cylinderFunction) shear(n int, y float64) complex128 {
	return f.slope - complex(float64(n*n)-y*y/2, 0)*f.value
}

func (f cylinderFunction) cross() complex128 { return f.slope - f.value }
