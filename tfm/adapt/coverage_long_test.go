// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package adapt

import "testing"

// TestSurfaceCoverageLong holds the uncertainty of the depth to the truth, on surfaces that were not
// used to choose settings. Each family has 60 captures. Over all families the intervals of 95 % hold
// the truth at 93 to 97 % of the places.
func TestSurfaceCoverageLong(t *testing.T) {
	mean := 0.0
	for _, s := range judgedSurfaces {
		share := s.coverage(t, 60)
		t.Logf("%s: %.3f", s.name, share)
		// The places of one capture are correlated, so 60 captures are good to about 0.02.
		if !(share >= 0.91 && share <= 0.99) {
			t.Errorf("%s: the intervals of 95 %% hold the truth at a share of %.3f of the places", s.name, share)
		}
		mean += share / float64(len(judgedSurfaces))
	}
	if !(mean >= 0.93 && mean <= 0.97) {
		t.Errorf("the intervals of 95 %% hold the truth at a share of %.3f of all places, want 0.93 to 0.97", mean)
	}
}
