// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"gonum.org/v1/gonum/blas/blas32"
)

// Subtraction subtracts from every trace the trace of the same pair in a reference capture: y = x
// − reference. Signals that are equal in both captures vanish, mainly the ring-down of the
// elements and the echoes within the wedge. Signals that differ remain from both captures, and so
// does noise. An [Average] of many frames makes a reference with little noise.
//
// The reference must come from the same set-up, at the same gain and the same temperature. Make
// the subtraction the first step, or condition the reference by the steps that come before the
// subtraction. To subtract only the ring-down, apply a [Window] to the reference that ends after
// the ring-down.
type Subtraction struct {
	Reference *fmc.Capture // a valid capture of the format of the chain; its samples are copied
}

func (s Subtraction) compile(like *fmc.Capture) (runner, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	if err := f.check("reference", s.Reference); err != nil {
		return nil, err
	}
	if err := s.Reference.CheckSamples(); err != nil {
		return nil, err
	}
	return reference(slices.Clone(s.Reference.Data)), nil
}

// reference holds the samples to subtract, trace after trace.
type reference []float32

func (reference) margin() int { return 0 }

func (r reference) run(p int, trace, _ []float32) {
	n := len(trace)
	blas32.Axpy(-1, blas32.Vector{N: n, Inc: 1, Data: r[p*n : (p+1)*n]},
		blas32.Vector{N: n, Inc: 1, Data: trace})
}
