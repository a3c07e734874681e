// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/health"
)

// traceFaults are the faults of single traces, of a size that users report, and the smallest
// that are found in every one of the twelve captures that the limits were judged on.
var traceFaults = []traceFault{
	lost(0.5), lost(0.2), jittered(0.3), jittered(0.2), spiked(10), spiked(3), coarse(1.0 / 8), coarse(1.0 / 20), swapped(1), swapped(3),
}

// orderTold are the captures in which every exchange can be found, because neighbours are similar
// enough everywhere.
var orderTold = []string{"block16", "notch32"}

// TestTraceFaults plants each fault in full-wave captures with noise of 3 % of the echo, at
// an element of a seeded choice, and wants that finding and no other, but for what the table of the
// package's text says.
func TestTraceFaults(t *testing.T) {
	if testing.Short() {
		t.Skip("seconds; TestTrials plants the same faults in noise")
	}
	names := references
	if !long {
		names = []string{"block16"}
	}
	for i, name := range names {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := reference(t, name)
			rng := source(uint64(40 + i))
			echo := echoPeak(t, name)
			for k := range c.Data {
				c.Data[k] += float32(0.03 * echo * rng.NormFloat64())
			}
			compare(t, nil, assess(t, c, nil))
			for k, fault := range traceFaults {
				if large := k%2 == 0; !long && large && fault.name != "exchanged" {
					continue // the smallest faults are found less easily
				}
				if fault.name == "exchanged" && !slices.Contains(orderTold, name) {
					continue
				}
				e := rng.IntN(len(c.Array.Elements))
				faulty := *c
				faulty.Data = slices.Clone(c.Data)
				want := fault.plant(&faulty, e, echo, rng)
				r := assess(t, &faulty, nil)
				r.Findings = slices.DeleteFunc(r.Findings, func(f health.Finding) bool { return slices.Contains(fault.also, f.Kind) })
				if !compare(t, want, r) {
					t.Errorf("that was %s at element %d", fault.name, e)
				}
			}
		})
	}
}
