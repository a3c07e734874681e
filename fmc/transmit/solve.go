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

// solver finds the spectra of the single elements, at one frequency after another. It solves the
// normal equations of the events or of the elements, whichever are fewer. Both have the same
// solution. A complex matrix P + iQ is stored as the real matrix [P −Q; Q P], in which every
// eigenvalue appears twice.
type solver struct {
	events   []fmc.Event
	elements int
	damping  float64
	least    float64        // smaller weights count as 0; 1e-20 of the largest
	a        [][]complex128 // A, by event and element
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

// few reports whether there are fewer events than elements.
func (s *solver) few() bool { return len(s.events) < s.elements }

// solve writes the spectra of the elements at the angular frequency omega to x, from the spectra y
// of the events. Element or event i and receiver r are at i·N + r.
func (s *solver) solve(x, y []complex128, omega float64) (Recovery, error) {
	for e, event := range s.events {
		for i, w := range event.Weights {
			s.a[e][i] = 0
			if math.Abs(w) > s.least {
				s.a[e][i] = cmplx.Rect(w, -omega*event.Delays[i])
			}
		}
	}
	s.setNormal()
	recovery, err := s.damp()
	if err != nil {
		return recovery, err
	}
	s.setRight(y)
	if !s.factor.Factorize(s.normal) {
		return recovery, errSingular
	}
	err = s.factor.SolveTo(&s.solution, s.right)
	if err != nil && !errors.As(err, new(mat.Condition)) {
		return recovery, errSingular
	}
	s.spread(x)
	return recovery, nil
}

// errSingular is the error for weights whose squares are too large or too small to compute with.
var errSingular = errors.New("transmit: events that cannot be solved for: " +
	"want weights of ordinary size, 1e-30 to 1e30")

// setNormal sets the normal matrix to AAᴴ or AᴴA.
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

// damp adds the damping to the normal matrix, and returns how far the matrix determines the
// elements.
func (s *solver) damp() (Recovery, error) {
	m := s.normal.SymmetricDim() / 2
	trace := mat.Trace(s.normal) / 2
	// Far outside this range the decomposition fails or panics.
	if !(trace >= 1e-60 && trace <= 1e60) || !s.values.Factorize(s.normal, false) {
		return Recovery{}, errSingular
	}
	values := s.values.Values(nil)
	damping := s.damping * s.damping * trace / float64(m)
	recovery := Recovery{Condition: math.Inf(1)}
	// Eigenvalues below 1e-12 of the largest are rounding errors.
	if least, most := slices.Min(values), slices.Max(values); least > 1e-12*most {
		recovery.Condition = math.Sqrt(most / least)
	}
	for _, v := range values {
		recovery.Resolved += max(v, 0) / (max(v, 0) + damping) / float64(2*s.elements)
	}
	for i := range 2 * m {
		s.normal.SetSym(i, i, s.normal.At(i, i)+damping)
	}
	return recovery, nil
}

// setRight sets the right side to y or Aᴴy.
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

// spread writes the solution of the normal equations to x, multiplied by Aᴴ if there are few
// events.
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
