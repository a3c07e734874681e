//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"slices"
	"testing"
)

// The limits of an explanation were chosen with the first three captures only.
var (
	chosenWith = []string{"block16", "pipe32", "weld32"}
	judgedWith = []string{"notch32", "sdh32", "wavy32"}
)

// TestAllCaptures judges all usual views of the captures of testdata. Of the full-skip view TT-TT fewer ghosts are
// explained than of the others: many waves are late enough to reach it.
func TestAllCaptures(t *testing.T) {
	few := func(s *scene) []string {
		return slices.DeleteFunc(usualViews(s), func(name string) bool { return name == "TT-TT" })
	}
	for _, test := range []struct {
		name     string
		captures []string
		views    func(*scene) []string
		ghosts   int // at least
		share    float64
	}{
		{"captures for the choice", chosenWith, few, 12, 0.8},
		{"other captures", judgedWith, few, 30, 0.8},
		{"other captures, full skip", []string{"sdh32"}, func(*scene) []string { return []string{"TT-TT"} }, 5, 0.25},
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
	}
}
