// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// OffsetRemoval takes from every trace its own mean over a gate:
//
//	y[k] = x[k] − (1/n) Σ x[m], m over the n samples of the gate.
//
// A constant becomes zero and the mean over the gate is zero afterwards. A tone
// of amplitude a and frequency f moves the mean by at most
//
//	a·|sin(π·f·n/SampleRate) / (n·sin(π·f/SampleRate))|,
//
// below a/20 as soon as the gate holds ten periods and f is below a third of
// the sample rate. The mean is taken in float64.
type OffsetRemoval struct {
	format
	from, to int
}

// NewOffsetRemoval returns the step for captures like the given one, with the
// gate from one time to another in s, both included. Limits beyond the record,
// -Inf and +Inf too, mean its ends; the gate must enclose a sample.
func NewOffsetRemoval(like *fmc.Capture, from, to float64) (*OffsetRemoval, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	o := &OffsetRemoval{format: f}
	o.from, o.to, err = f.gate(from, to)
	if err != nil {
		return nil, err
	}
	return o, nil
}

func (o *OffsetRemoval) run(_ int, trace, _ []float32) {
	gate := trace[o.from:o.to]
	vector.Shift(trace, float32(-vector.Sum(gate)/float64(len(gate))))
}
