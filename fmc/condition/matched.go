// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
)

// MatchedFilter correlates traces with a known pulse p of n samples:
//
//	y[k] = Σ p[m]·x[k+m−centre] / E, m = 0 … n−1, E = Σ p[m]².
//
// An echo a·p whose sample centre stands at k becomes the autocorrelation of p
// with its maximum, a, at k. Among all linear filters this one gives that
// sample the largest ratio to white noise: noise of standard deviation σ leaves
// with σ/√E (G. L. Turin, IRE Trans. Inf. Theory 6 (1960) 311). The echo gets
// about twice as long.
type MatchedFilter struct {
	format
	fir fir
}

// NewMatchedFilter returns the filter for captures like the given one. The
// pulse is copied; it is sampled at the rate of the capture, has 1 to 8,193
// finite samples and a peak between 1e-15 and 1e15 in size. Centre is the
// index of its sample at time 0, 0 ≤ centre < len(pulse).
func NewMatchedFilter(like *fmc.Capture, pulse []float32, centre int) (*MatchedFilter, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	if len(pulse) < 1 || len(pulse) > maxTaps {
		return nil, fmt.Errorf("condition: pulse of %d samples: want 1 to %d", len(pulse), maxTaps)
	}
	if centre < 0 || centre >= len(pulse) {
		return nil, fmt.Errorf("condition: centre %d of the pulse: want 0 to %d", centre, len(pulse)-1)
	}
	peak, energy := 0.0, 0.0
	for i, v := range pulse {
		if !finite(float64(v)) {
			return nil, fmt.Errorf("condition: sample %d of the pulse is %v: want a finite value", i, v)
		}
		peak = max(peak, math.Abs(float64(v)))
		energy += float64(v) * float64(v)
	}
	if !(peak >= 1e-15 && peak <= 1e15) {
		return nil, fmt.Errorf("condition: peak %v of the pulse: want 1e-15 to 1e15", peak)
	}
	taps := slices.Clone(pulse)
	for i, v := range pulse {
		taps[i] = float32(float64(v) / energy)
	}
	return &MatchedFilter{f, fir{taps, centre}}, nil
}

// Response returns the factor by which exp(2πi·f·t) of the given frequency in
// Hz is multiplied far from the ends of the record: the conjugate of the
// pulse's spectrum, over E.
func (m *MatchedFilter) Response(frequency float64) complex128 {
	return m.fir.response(frequency / m.rate)
}

func (m *MatchedFilter) margin() int { return m.fir.margin() }

func (m *MatchedFilter) run(_ int, trace, spare []float32) { m.fir.run(trace, spare) }
