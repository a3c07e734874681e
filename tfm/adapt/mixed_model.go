// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// penalty is the prior of a curve: its second differences are normally distributed about 0.
type penalty struct{ differences int }

// add adds the squares of the second differences, times a weight, to a quadratic form.
func (p *penalty) add(form *mat.SymDense, weight float64) {
	second := [3]float64{1, -2, 1}
	for k := range p.differences {
		for i, a := range second {
			for j := i; j < 3; j++ {
				form.SetSym(k+i, k+j, form.At(k+i, k+j)+weight*a*second[j])
			}
		}
	}
}

// mixed is a linear model with two kinds of random effects:
//
//	y = J·θ + d(transmit) + d(receive) + ε.
//
// y holds the lengths of echo paths in m, weighted by the number of measured directions, θ the
// parameters of a curve, d the delay of each element as a length, and ε independent noise of the
// variance σ². The delays have the variance ρσ². The second differences of θ have the variance
// σ²/λ.
//
// The ratios ρ and λ maximise the restricted likelihood. The uncertainty of θ follows from all
// three (G. Wahba, J. R. Statist. Soc. B 45 (1983) 133-150, on intervals of smoothing splines; D.
// Ruppert, M. P. Wand and R. J. Carroll, Semiparametric Regression (2003), chapter 4; both from
// memory).
type mixed struct {
	parameters, elements int
	stiff                *penalty

	normal   *mat.SymDense // of all unknowns, without priors
	right    *mat.VecDense
	squares  float64 // weighted sum of y²
	count    int     // of lengths
	smooth   float64 // log λ
	delays   float64 // log ρ
	solution mat.VecDense
	factor   mat.Cholesky
	variance float64 // σ², m²
}

func newMixed(c curve, elements int) *mixed {
	m := &mixed{parameters: c.size(), elements: elements, stiff: c.stiffness(), delays: math.Log(0.1), smooth: math.Log(0.01)}
	n := m.parameters + elements
	m.normal, m.right = mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	return m
}

// observe adds the length of an echo with its derivatives. The mean of two directions has half of
// the variance.
func (m *mixed) observe(gradient []float64, e echo, length float64) {
	n := m.parameters
	weight := float64(e.count)
	row := make(map[int]float64, n+2)
	order := make([]int, 0, n+2)
	put := func(i int, v float64) {
		if v == 0 {
			return
		}
		if _, known := row[i]; !known {
			order = append(order, i)
		}
		row[i] += v
	}
	for i, g := range gradient {
		put(i, g)
	}
	put(n+e.transmit, 1)
	put(n+e.receive, 1)
	for i, a := range order {
		m.right.SetVec(a, m.right.AtVec(a)+weight*row[a]*length)
		for _, b := range order[i:] {
			m.normal.SetSym(a, b, m.normal.At(a, b)+weight*row[a]*row[b])
		}
	}
	m.squares += weight * length * length
	m.count++
}

// fixed returns the number of parameters without a prior.
func (m *mixed) fixed() int {
	if m.stiff != nil {
		return m.parameters - m.stiff.differences
	}
	return m.parameters
}

// deviance solves the model for its present ratios. It returns minus twice the logarithm of the
// restricted likelihood, but for a constant.
func (m *mixed) deviance() float64 {
	n := m.parameters + m.elements
	h := mat.NewSymDense(n, nil)
	h.CopySym(m.normal)
	for i := range m.elements {
		k := m.parameters + i
		h.SetSym(k, k, h.At(k, k)+math.Exp(-m.delays))
	}
	d := float64(m.elements) * m.delays
	if m.stiff != nil {
		m.stiff.add(h, math.Exp(m.smooth))
		d -= float64(m.stiff.differences) * m.smooth
	}
	if !m.factor.Factorize(h) {
		return math.Inf(1)
	}
	if err := m.factor.SolveVecTo(&m.solution, m.right); err != nil {
		return math.Inf(1)
	}
	free := float64(m.count - m.fixed())
	m.variance = max((m.squares-mat.Dot(m.right, &m.solution))/free, leastLength*leastLength)
	return d + m.factor.LogDet() + free*math.Log(m.variance)
}

// solve finds the parameters, after it has found the ratios if refine is set.
func (m *mixed) solve(refine bool) error {
	if m.count < m.fixed()+2 {
		return fmt.Errorf("adapt: %w: %d echoes of the front surface, want at least %d",
			ErrUndetermined, m.count, m.fixed()+2)
	}
	for range 2 {
		if !refine {
			break
		}
		m.delays = least(math.Log(1e-3), math.Log(1e3), func(v float64) float64 {
			m.delays = v
			return m.deviance()
		})
		if m.stiff != nil {
			m.smooth = least(math.Log(1e-4), math.Log(1e8), func(v float64) float64 {
				m.smooth = v
				return m.deviance()
			})
		}
	}
	if math.IsInf(m.deviance(), 1) {
		return fmt.Errorf("adapt: %w: the echoes do not determine the front surface", ErrUndetermined)
	}
	return nil
}

// with returns the same model with the ratios of another, solved.
func (m *mixed) with(other *mixed) *mixed {
	same := &mixed{parameters: m.parameters, elements: m.elements, stiff: m.stiff, normal: m.normal,
		right: m.right, squares: m.squares, count: m.count, smooth: other.smooth, delays: other.delays}
	same.deviance()
	return same
}

// misfit returns the sum of squares of the solution, without the part of the prior of the curve.
func (m *mixed) misfit() float64 {
	sum := m.squares - mat.Dot(m.right, &m.solution)
	if m.stiff != nil {
		prior := mat.NewSymDense(m.parameters, nil)
		m.stiff.add(prior, math.Exp(m.smooth))
		curve := m.solution.SliceVec(0, m.parameters)
		sum -= mat.Inner(curve, prior, curve)
	}
	return sum
}

// effective returns the effective number of parameters of the curve, and of curve and delays
// together: the number of unknowns minus the share that the priors determine.
func (m *mixed) effective() (curve, all float64) {
	var inverse mat.SymDense
	if err := m.factor.InverseTo(&inverse); err != nil {
		return math.NaN(), math.NaN()
	}
	curve = float64(m.parameters)
	if m.stiff != nil {
		prior := mat.NewSymDense(m.parameters, nil)
		m.stiff.add(prior, math.Exp(m.smooth))
		for i := range m.parameters {
			for j := range m.parameters {
				curve -= prior.At(i, j) * inverse.At(i, j)
			}
		}
	}
	all = curve
	for i := range m.elements {
		k := m.parameters + i
		all += 1 - math.Exp(-m.delays)*inverse.At(k, k)
	}
	return curve, all
}

// covariance returns the covariance of the parameters of the curve.
func (m *mixed) covariance() (*mat.SymDense, error) {
	var all mat.SymDense
	if err := m.factor.InverseTo(&all); err != nil {
		return nil, fmt.Errorf("adapt: %w: the echoes do not determine the front surface (%v)", ErrUndetermined, err)
	}
	c := mat.NewSymDense(m.parameters, nil)
	for i := range m.parameters {
		for j := i; j < m.parameters; j++ {
			c.SetSym(i, j, m.variance*all.At(i, j))
		}
	}
	return c, nil
}

// least returns the place of the smallest value of a function between two places: the best of a row
// of steps, refined by the golden section.
func least(from, to float64, value func(float64) float64) float64 {
	const steps = 8
	best, at := math.Inf(1), from
	step := (to - from) / steps
	for i := range steps + 1 {
		x := from + float64(i)*step
		if v := value(x); v < best {
			best, at = v, x
		}
	}
	return golden(max(from, at-step), min(to, at+step), step/20, value)
}

// golden returns the place of the smallest value of a function with one minimum, within a
// tolerance.
func golden(a, b, tolerance float64, value func(float64) float64) float64 {
	ratio := (math.Sqrt(5) - 1) / 2
	c, d := b-ratio*(b-a), a+ratio*(b-a)
	vc, vd := value(c), value(d)
	for b-a > tolerance {
		if vc < vd {
			b, d, vd = d, c, vc
			c = b - ratio*(b-a)
			vc = value(c)
		} else {
			a, c, vc = c, d, vd
			d = a + ratio*(b-a)
			vd = value(d)
		}
	}
	return (a + b) / 2
}
