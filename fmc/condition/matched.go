// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// MatchedFilter correlates traces with a known pulse p of n samples:
//
//	y[k] = Σ p[m]·x[k+m−Centre] / E, m = 0 … n−1, E = Σ p[m]².
//
// An echo a·p whose sample Centre stands at k becomes the autocorrelation of p, with its maximum a
// at k. Of all linear filters this one gives the sample at k the largest ratio to white noise:
// noise of standard deviation σ becomes noise of σ/√E (G. L. Turin, IRE Trans. Inf. Theory 6 (1960)
// 311). The echo becomes about twice as long.
type MatchedFilter struct {
	// Pulse is sampled at the sample rate of the capture. It has 1 to 8,193 finite samples, of
	// which the largest has a size of 1e-15 to 1e15.
	Pulse []float32

	// Centre is the index of the sample of the pulse at time 0, 0 ≤ Centre < len(Pulse).
	Centre int
}

func (m MatchedFilter) compile(*fmc.Capture) (runner, error) {
	n := len(m.Pulse)
	if n < 1 || n > maxTaps {
		return nil, fmt.Errorf("condition: pulse of %d samples: want 1 to %d", n, maxTaps)
	}
	if m.Centre < 0 || m.Centre >= n {
		return nil, fmt.Errorf("condition: centre %d of the pulse: want 0 to %d", m.Centre, n-1)
	}
	peak, energy := 0.0, 0.0
	for i, v := range m.Pulse {
		if !number.Finite(float64(v)) {
			return nil, fmt.Errorf("condition: sample %d of the pulse is %v: want a finite value",
				i, v)
		}
		peak = max(peak, math.Abs(float64(v)))
		energy += float64(v) * float64(v)
	}
	if !(peak >= 1e-15 && peak <= 1e15) {
		return nil, fmt.Errorf("condition: peak %v of the pulse: want 1e-15 to 1e15", peak)
	}
	taps := slices.Clone(m.Pulse)
	for i, v := range taps {
		taps[i] = float32(float64(v) / energy)
	}
	return &fir{taps, m.Centre}, nil
}
