// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package uncertainty

import (
	"maps"
	"slices"
	"testing"
)

// TestCoverageLong makes 500 readings in each of three set-ups, with all parameters drawn from
// their distributions, with noise, and with images of the whole chain. Nothing was fitted to these
// trials: the uncertainty of the method was measured at other places. A fourth set-up, over a
// skip, has fewer trials and a wider limit: with errors of the set-up the phases of its amplitudes
// change, too.
func TestCoverageLong(t *testing.T) {
	for _, s := range scenarios() {
		trials, least, most := 500, 0.93, 0.97
		if s.view == "TT-T" {
			trials, least, most = 150, 0.85, 1
		}
		all := s.coverage(t, trials)
		for _, name := range slices.Sorted(maps.Keys(all)) {
			normal, simulated := float64(all[name].normal)/float64(trials), float64(all[name].simulated)/float64(trials)
			t.Logf("%s, %s: the truth is in %.1f %% of the intervals by Result, %.1f %% by Simulate", s.name, name, 100*normal, 100*simulated)
			if !(normal >= least) {
				t.Errorf("%s, %s: intervals by Result hold the truth in %v", s.name, name, normal)
			}
			if !(simulated >= least && simulated <= most) {
				t.Errorf("%s, %s: intervals by Simulate hold the truth in %v", s.name, name, simulated)
			}
		}
	}
}
