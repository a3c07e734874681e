// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
)

// stepTraces is how many traces of a receiver are enough to measure its step.
const stepTraces = 6

// measureSteps measures the step of each receiver's numbers: the least difference of two
// distinct samples of a trace, the median over its traces. It does not need the step to be the
// same in all traces, because a gain or an offset of single traces changes it.
func (a *assessment) measureSteps() {
	pairs := make([][]int, len(a.report.Elements))
	for p, pair := range a.capture.Pairs {
		pairs[pair.Rx] = append(pairs[pair.Rx], p)
	}
	for e := range a.report.Elements {
		a.report.Elements[e].Step = unknown
		if !(a.report.EchoPeak > 0) {
			continue
		}
		var steps []float64
		for i := 0; i < len(pairs[e]); i += 1 + len(pairs[e])/(stepTraces+1) {
			steps = append(steps, step(a.recorded.Trace(pairs[e][i])))
		}
		a.report.Elements[e].Step = Number(number.Median(steps)) / a.report.EchoPeak
	}
}

// step returns the least difference of two samples that differ by more than the rounding of
// float32, and NaN where all are equal.
func step(trace []float32) float64 {
	x := slices.Clone(trace)
	slices.Sort(x)
	largest := max(math.Abs(float64(x[0])), math.Abs(float64(x[len(x)-1])))
	least := math.Inf(1)
	for k := 1; k < len(x); k++ {
		if d := float64(x[k]) - float64(x[k-1]); d > 1e-6*largest {
			least = min(least, d)
		}
	}
	if math.IsInf(least, 1) {
		return math.NaN()
	}
	return least
}
