// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package tips

import "testing"

// TestLongTrial judges the limits on 250 cracks of odd seeds, and repeats the 250 cracks of even
// seeds on which they were chosen. The same holds for scenes of holes.
func TestLongTrial(t *testing.T) {
	for _, half := range []struct {
		name  string
		first uint64
	}{{"judged", 1}, {"chosen", 0}} {
		t.Run(half.name, func(t *testing.T) {
			judgeCracks(t, half.first, 250)
			judgePores(t, half.first, 50)
		})
	}
}

// TestCapturesOfHoles finds no flaw in the full-wave captures of holes.
func TestCapturesOfHoles(t *testing.T) {
	for _, c := range []struct {
		name string
		box  box
	}{
		{"block16", box{-14, 14, 5, 39, 0.2}},
		{"pipe32", box{-11, 11, 2, 13, 0.12}},
		{"wavy32", box{-11, 11, 3, 19, 0.12}},
	} {
		if flaws, _ := examine(t, c.name, c.box, "L-L"); len(flaws) != 0 {
			t.Errorf("%s: %d flaws, want none: %+v", c.name, len(flaws), flaws)
		}
	}
}
