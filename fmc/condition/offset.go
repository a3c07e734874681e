// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// OffsetRemoval subtracts from every trace the mean of that trace over a gate:
//
//	y[k] = x[k] − (1/n) Σ x[m], m over the n samples of the gate.
//
// A constant becomes zero, and so does the mean over the gate. A tone of amplitude a and frequency
// f moves the mean by at most
//
//	a·|sin(π·f·n/SampleRate) / (n·sin(π·f/SampleRate))|.
//
// That is below a/20 if the gate holds ten periods and f is below a third of the sample rate. The
// mean is taken in float64.
type OffsetRemoval struct {
	// From and To are the limits of the gate in s, both included. A limit beyond the record, also
	// -Inf or +Inf, means the end of the record. The gate must enclose a sample.
	From, To float64
}

func (o OffsetRemoval) compile(like *fmc.Capture) (runner, error) {
	from, to, err := gate(like, o.From, o.To)
	return offset{from, to}, err
}

// offset subtracts the mean of the samples from ≤ k < to.
type offset struct{ from, to int }

func (offset) margin() int { return 0 }

func (o offset) run(_ int, trace, _ []float32) {
	gate := trace[o.from:o.to]
	vector.Shift(trace, float32(-vector.Sum(gate)/float64(len(gate))))
}
