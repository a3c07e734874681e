// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// system is the linear system of one Newton step: Hessian · step = -gradient. It is small and
// dense. It owns its memory, since a table of times solves millions of systems.
type system struct {
	n        int
	gradient []float64 // s/m
	hessian  []float64 // row i, column j at i*n+j; s/m²
	step     []float64 // m
	work     []float64 // a copy of the Hessian, overwritten by the elimination
}

func newSystem(capacity int) system {
	return system{
		gradient: make([]float64, capacity),
		hessian:  make([]float64, capacity*capacity),
		step:     make([]float64, capacity),
		work:     make([]float64, capacity*capacity),
	}
}

// clear prepares for a path with the given numbers of crossings and of unknowns per crossing.
func (s *system) clear(crossings, unknowns int) {
	s.n = crossings * unknowns
	clear(s.gradient[:s.n])
	clear(s.hessian[:s.n*s.n])
}

// addEnd adds the end of a leg at a crossing. d is the unit direction of the leg. slow and length
// are both negative if the leg begins at the crossing.
//
// For a leg of length ℓ that ends at P, ∂ℓ/∂a = d·P_a and ∂²ℓ/∂a∂b = (P_a·P_b - (d·P_a)(d·P_b))/ℓ +
// d·P_ab.
func (s *system) addEnd(crossing, unknowns int, slow, length float64, d r3.Vec, p *Patch) {
	stiff := slow / length
	i := crossing * unknowns
	du := r3.Dot(d, p.U)
	s.gradient[i] += slow * du
	s.hessian[i*s.n+i] += stiff*(r3.Dot(p.U, p.U)-du*du) + slow*r3.Dot(d, p.UU)
	if unknowns == 1 {
		return
	}
	dv := r3.Dot(d, p.V)
	uv := stiff*(r3.Dot(p.U, p.V)-du*dv) + slow*r3.Dot(d, p.UV)
	j := i + 1
	s.gradient[j] += slow * dv
	s.hessian[j*s.n+j] += stiff*(r3.Dot(p.V, p.V)-dv*dv) + slow*r3.Dot(d, p.VV)
	s.hessian[i*s.n+j] += uv
	s.hessian[j*s.n+i] += uv
}

// addCoupling adds the mixed derivatives of a leg between two crossings.
func (s *system) addCoupling(crossing, unknowns int, stiff float64, d r3.Vec, a, b *Patch) {
	as, bs := [2]r3.Vec{a.U, a.V}, [2]r3.Vec{b.U, b.V}
	for x := range unknowns {
		for y := range unknowns {
			mixed := -stiff * (r3.Dot(as[x], bs[y]) - r3.Dot(d, as[x])*r3.Dot(d, bs[y]))
			i, j := crossing*unknowns+x, (crossing+1)*unknowns+y
			s.hessian[i*s.n+j] += mixed
			s.hessian[j*s.n+i] += mixed
		}
	}
}

// residual returns the largest absolute component of the gradient, NaN if a component is NaN.
func (s *system) residual() float64 {
	largest := 0.0
	for _, g := range s.gradient[:s.n] {
		if !(math.Abs(g) <= largest) {
			largest = math.Abs(g)
		}
	}
	return largest
}

// merit returns the squared length of the gradient.
func (s *system) merit() float64 {
	sum := 0.0
	for _, g := range s.gradient[:s.n] {
		sum += g * g
	}
	return sum
}

// stepSize returns the largest absolute component of the step.
func (s *system) stepSize() float64 {
	largest := 0.0
	for _, x := range s.step[:s.n] {
		largest = max(largest, math.Abs(x))
	}
	return largest
}

// slope returns the derivative of the time along the step.
func (s *system) slope() float64 {
	sum := 0.0
	for i, g := range s.gradient[:s.n] {
		sum += g * s.step[i]
	}
	return sum
}

// solve computes the Newton step by elimination with partial pivoting, because the Hessian at a
// saddle point is not positive definite. It reports whether the step is finite.
func (s *system) solve() bool {
	n := s.n
	if n == 1 {
		s.step[0] = -s.gradient[0] / s.hessian[0]
		return number.Finite(s.step[0])
	}
	a, x := s.work[:n*n], s.step[:n]
	copy(a, s.hessian[:n*n])
	for i := range x {
		x[i] = -s.gradient[i]
	}
	for k := range n {
		pivot := k
		for i := k + 1; i < n; i++ {
			if math.Abs(a[i*n+k]) > math.Abs(a[pivot*n+k]) {
				pivot = i
			}
		}
		if pivot != k {
			for j := k; j < n; j++ {
				a[k*n+j], a[pivot*n+j] = a[pivot*n+j], a[k*n+j]
			}
			x[k], x[pivot] = x[pivot], x[k]
		}
		for i := k + 1; i < n; i++ {
			factor := a[i*n+k] / a[k*n+k]
			for j := k + 1; j < n; j++ {
				a[i*n+j] -= factor * a[k*n+j]
			}
			x[i] -= factor * x[k]
		}
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			x[i] -= a[i*n+j] * x[j]
		}
		x[i] /= a[i*n+i]
		if !number.Finite(x[i]) {
			return false
		}
	}
	return true
}
