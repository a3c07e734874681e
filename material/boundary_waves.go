// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "math"

// grazingCosine is the smallest cosine of the incident wave: the cosine of the angle nearest to 90°
// in float64. With it the result at grazing incidence is the limit; cosine 0 would give 0/0.
const grazingCosine = 6.1e-17

// boundaryWaves is the input of the solvers: the waves above and below a boundary for one slowness
// along the boundary.
type boundaryWaves struct {
	upper, lower boundarySide
	welded       bool // otherwise the shear stress is zero on both sides
}

// boundarySide holds the waves of one half-space. The unit of the impedance is the impedance of the
// upper medium. The impedance is 0 for a vacuum.
type boundarySide struct {
	impedance  float64 // ρ·cL
	kappa      float64 // cT/cL, 0 for a fluid
	sinL, sinT float64 // c·p, above 1 for an evanescent wave
	cosL, cosT complex128
	cos2T      float64 // 1 − 2·sinT², cosine of twice the angle of T; 0 for a vacuum
}

// waves returns the waves for the given sine and cosine of the angle of incidence.
func (b Boundary) waves(incident Mode, sin, cos float64) boundaryWaves {
	c := b.upper.Speed(incident)
	cos = max(cos, grazingCosine)
	w := boundaryWaves{
		upper:  newBoundarySide(b.upper, c, sin, cos),
		welded: b.contact == Welded && !b.upper.Fluid() && !b.lower.Fluid(),
	}
	w.upper.impedance = 1
	if b.lower.Density == 0 {
		w.lower = boundarySide{cosL: 1, cosT: 1}
		return w
	}
	w.lower = newBoundarySide(b.lower, c, sin, cos)
	speeds := b.lower.Longitudinal / b.upper.Longitudinal
	w.lower.impedance = b.lower.Density / b.upper.Density * speeds
	return w
}

// newBoundarySide returns the waves in m that have the same slowness along the boundary as a wave
// of speed c with the given sine and cosine. It does not set the impedance.
func newBoundarySide(m Isotropic, c, sin, cos float64) boundarySide {
	s := boundarySide{kappa: m.Transverse / m.Longitudinal}
	s.sinL, s.cosL = snellComplex(m.Longitudinal/c, sin, cos)
	s.sinT, s.cosT = snellComplex(m.Transverse/c, sin, cos)
	s.cos2T = 1 - 2*s.sinT*s.sinT
	return s
}

// snellComplex returns the sine and the complex cosine of the angle of a wave. The wave is ratio
// times as fast as the wave with the given sine and cosine. Each of the two forms of the square of
// the cosine is accurate where it is used.
//
// At a critical angle rounding decides whether the square is above 0, below 0 or 0. There the
// square is set to its own rounding error. This is the cosine of a wave within 1e-8 rad of grazing,
// which is equally accurate and never gives 0/0.
func snellComplex(ratio, sin, cos float64) (float64, complex128) {
	s := ratio * sin
	square, scale := (1-s)*(1+s), 1.0
	if cos < sin {
		a, b := (1-ratio)*(1+ratio), ratio*cos*(ratio*cos)
		square, scale = a+b, max(math.Abs(a), b)
	}
	const epsilon = 0x1p-52
	if math.Abs(square) < epsilon*scale {
		square = epsilon * scale
	}
	if square < 0 {
		return s, complex(0, math.Sqrt(-square))
	}
	return s, complex(math.Sqrt(square), 0)
}

// sinProduct returns κ²·sin(2θL)·sin(2θT) = 4κ·sinT²·cosL·cosT, one of the two terms of Rayleigh's
// function. The other term is cos2T².
func (s *boundarySide) sinProduct() complex128 {
	return boundaryScale(s.cosL*s.cosT, 4*s.kappa*s.sinT*s.sinT)
}

// rayleigh returns Rayleigh's function cos2T² + κ²·sin(2θL)·sin(2θT). It is 1 for a fluid, and 0 at
// the slowness of surface waves.
func (s *boundarySide) rayleigh() complex128 {
	if s.evanescent() {
		// The two terms would cancel; the form with cosDelta does not.
		return complex(1-4*s.sinT*s.sinT*(1-s.kappa*real(s.cosDelta())), 0)
	}
	return complex(s.cos2T*s.cos2T, 0) + s.sinProduct()
}

// cosDelta returns cos(θL − θT) = sinL·sinT + cosL·cosT, which is never 0.
func (s *boundarySide) cosDelta() complex128 {
	if s.evanescent() {
		// The same number without the difference of two large numbers.
		l, t := s.sinL*s.sinL, s.sinT*s.sinT
		return complex((l+t-1)/(s.sinL*s.sinT+imag(s.cosL)*imag(s.cosT)), 0)
	}
	return complex(s.sinL*s.sinT, 0) + s.cosL*s.cosT
}

// evanescent reports whether both waves are evanescent.
func (s *boundarySide) evanescent() bool { return imag(s.cosL) > 0 && imag(s.cosT) > 0 }

// throughput returns Z·cos θ of mode. It is proportional to the energy that a wave of unit
// displacement carries through the boundary.
func (s *boundarySide) throughput(m Mode) float64 {
	if m == T {
		return s.impedance * s.kappa * real(s.cosT)
	}
	return s.impedance * real(s.cosL)
}

// energy returns the energy coefficients for the displacements d.
func (w *boundaryWaves) energy(d Coefficients, incident Mode) EnergyCoefficients {
	in := w.upper.throughput(incident)
	var e EnergyCoefficients
	for out := L; out <= T; out++ {
		e.Reflected[out] = boundaryNorm(d.Reflected[out]) * (w.upper.throughput(out) / in)
		e.Transmitted[out] = boundaryNorm(d.Transmitted[out]) * (w.lower.throughput(out) / in)
	}
	return e
}

func boundaryNorm(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// solve returns the displacements of the waves that leave the boundary.
func (w *boundaryWaves) solve(incident Mode) Coefficients {
	if w.welded {
		return solveWelded(&w.upper, &w.lower, incident)
	}
	return solveSlipping(&w.upper, &w.lower, incident)
}
