// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"gonum.org/v1/gonum/blas/blas32"
)

// Subtraction takes from every trace that of the same pair in a reference
// capture: y = x − reference. What is the same in both vanishes, above all the
// ring-down of the elements and the echoes within the wedge. What is not the
// same, noise too, remains from both; an [Average] of many frames makes a quiet
// reference.
//
// The reference must come from the same set-up, at the same gain and the same
// temperature. Subtract first, or condition the reference by the same steps. To
// subtract the ring-down alone, let a [Taper] end the reference after it.
type Subtraction struct {
	format
	reference []float32
}

// NewSubtraction returns the step for captures like the reference, whose
// samples it copies.
func NewSubtraction(reference *fmc.Capture) (*Subtraction, error) {
	f, err := formatOf(reference)
	if err != nil {
		return nil, err
	}
	return &Subtraction{f, slices.Clone(reference.Data)}, nil
}

func (s *Subtraction) run(p int, trace, _ []float32) {
	reference := s.reference[p*s.samples : (p+1)*s.samples]
	blas32.Axpy(-1, blas32.Vector{N: len(reference), Inc: 1, Data: reference}, blas32.Vector{N: len(trace), Inc: 1, Data: trace})
}
