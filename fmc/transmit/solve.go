// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"errors"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"

	"github.com/isochron-imaging/isochron/fmc"
)

// solver solves for what each element alone would give, at one frequency after
// another. The normal equations are those of the lesser count, of events or of
// elements; both have the same solution. A complex matrix P + iQ stands as the real one
// [P −Q; Q P], of which every eigenvalue counts twice.
type solver struct {
	events   []fmc.Event
	elements int
	damping  float64
	least    float64        // weight that counts: 1e-20 of the largest, far below the damping
	a        [][]complex128 // of event e and element i
	normal   *mat.SymDense
	right    *mat.Dense
	solution mat.Dense
	values   mat.EigenSym
	factor   mat.Cholesky
}

func newSolver(events []fmc.Event, damping float64) *solver {
	n := len(events[0].Weights)
	m := min(len(events), n)
	largest := 0.0
	for _, event := range events {
		for _, w := range event.Weights {
			largest = max(largest, math.Abs(w))
		}
	}
	return &solver{
		least:    1e-20 * largest,
		events:   events,
		elements: n,
		damping:  damping,
		a:        spectra(len(events), n),
		normal:   mat.NewSymDense(2*m, nil),
		right:    mat.NewDense(2*m, n, nil),
	}
}

// few says whether there are fewer events than elements.
func (s *solver) few() bool { return len(s.events) < s.elements }

// solve writes the spectra of the elements at angular frequency omega to x, of element
// i and receiver r at i·N + r, from those of the events, y.
func (s *solver) solve(x, y []complex128, omega float64) (Report, error) {
	for e, event := range s.events {
		for i, w := range event.Weights {
			s.a[e][i] = 0
			if math.Abs(w) > s.least {
				s.a[e][i] = cmplx.Rect(w, -omega*event.Delays[i])
			}
		}
	}
	s.setNormal()
	report, err := s.report()
	if err != nil {
		return report, err
	}
	s.setRight(y)
	if !s.factor.Factorize(s.normal) {
		return report, errSingular
	}
	if err := s.factor.SolveTo(&s.solution, s.right); err != nil && !errors.As(err, new(mat.Condition)) {
		return report, errSingular
	}
	s.spread(x)
	return report, nil
}

// errSingular stands for weights too large or too small to reckon with their squares.
var errSingular = errors.New("transmit: events that cannot be solved for: want weights of ordinary size, 1e-30 to 1e30")

// setNormal sets the normal matrix, AAᴴ or AᴴA.
func (s *solver) setNormal() {
	m := s.normal.SymmetricDim() / 2
	for i := range m {
		for j := i; j < m; j++ {
			v := 0i
			if s.few() {
				for k := range s.elements {
					v += s.a[i][k] * cmplx.Conj(s.a[j][k])
				}
			} else {
				for e := range s.events {
					v += cmplx.Conj(s.a[e][i]) * s.a[e][j]
				}
			}
			s.normal.SetSym(i, j, real(v))
			s.normal.SetSym(m+i, m+j, real(v))
			s.normal.SetSym(i, m+j, -imag(v))
			s.normal.SetSym(j, m+i, imag(v))
		}
	}
}

// report says how far the normal matrix determines the elements, and adds the damping
// to it.
func (s *solver) report() (Report, error) {
	m := s.normal.SymmetricDim() / 2
	trace := mat.Trace(s.normal) / 2
	// Far beyond these the decomposition fails, where it does not panic.
	if !(trace >= 1e-60 && trace <= 1e60) || !s.values.Factorize(s.normal, false) {
		return Report{}, errSingular
	}
	values := s.values.Values(nil)
	damping := s.damping * s.damping * trace / float64(m)
	report := Report{Condition: math.Inf(1)}
	// Below 1e-12 of the largest, the eigenvalues are rounding.
	if least, most := slices.Min(values), slices.Max(values); least > 1e-12*most {
		report.Condition = math.Sqrt(most / least)
	}
	for _, v := range values {
		report.Resolved += max(v, 0) / (max(v, 0) + damping) / float64(2*s.elements)
	}
	for i := range 2 * m {
		s.normal.SetSym(i, i, s.normal.At(i, i)+damping)
	}
	return report, nil
}

// setRight sets the right side, y or Aᴴy.
func (s *solver) setRight(y []complex128) {
	m, n := s.normal.SymmetricDim()/2, s.elements
	for i := range m {
		for r := range n {
			v := 0i
			if s.few() {
				v = y[i*n+r]
			} else {
				for e := range s.events {
					v += cmplx.Conj(s.a[e][i]) * y[e*n+r]
				}
			}
			s.right.Set(i, r, real(v))
			s.right.Set(m+i, r, imag(v))
		}
	}
}

// spread writes the solution of the normal equations, or Aᴴ times that, to x.
func (s *solver) spread(x []complex128) {
	m, n := s.normal.SymmetricDim()/2, s.elements
	at := func(i, r int) complex128 { return complex(s.solution.At(i, r), s.solution.At(m+i, r)) }
	for i := range n {
		for r := range n {
			if !s.few() {
				x[i*n+r] = at(i, r)
				continue
			}
			v := 0i
			for e := range m {
				v += cmplx.Conj(s.a[e][i]) * at(e, r)
			}
			x[i*n+r] = v
		}
	}
}
