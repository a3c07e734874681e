//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import "testing"

// The limits of an explanation were chosen with the first five captures. The results of the other
// five were seen while the rules were written, so they are no blind test.
var (
	chosenWith = []string{"block16", "pipe32", "weld32", "tips_plate1", "tips_weld1"}
	judgedWith = []string{"notch32", "sdh32", "wavy32", "tips_plate2", "tips_weld2"}
)

// TestAllCaptures judges all usual views of the captures. In the views LT-T and TT-TT through a
// wedge fewer ghosts are explained. Many waves are late enough to reach these views.
func TestAllCaptures(t *testing.T) {
	late := func(*scene) []string { return []string{"LT-T", "TT-TT"} }
	var usual tally
	for _, test := range []struct {
		name     string
		captures []string
		views    func(*scene) []string
		ghosts   int // at least
		share    float64
	}{
		{"captures for the choice", chosenWith, usualViews, 12, 0.8},
		{"other captures", judgedWith, usualViews, 30, 0.75},
		{"late views", []string{"sdh32", "tips_weld2"}, late, 10, 0.4},
	} {
		j := judgeAll(t, test.captures, test.views)
		t.Logf("%s: %+v", test.name, j)
		if n := j.ghosts.all; !(n >= test.ghosts && float64(j.ghosts.explained) >= test.share*float64(n)) {
			t.Errorf("%s: %d of %d ghosts explained, want at least %d ghosts and the share %v",
				test.name, j.ghosts.explained, n, test.ghosts, test.share)
		}
		if j.walls.explained != j.walls.all {
			t.Errorf("%s: %d of %d echoes of walls explained, want all", test.name, j.walls.explained, j.walls.all)
		}
		if test.name != "late views" {
			usual.all += j.ghosts.all
			usual.explained += j.ghosts.explained
		}
	}
	if !(float64(usual.explained) >= 0.8*float64(usual.all)) {
		t.Errorf("%d of %d ghosts explained in the usual views, want 80 %%", usual.explained, usual.all)
	}
}
