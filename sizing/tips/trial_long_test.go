// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package tips

import "testing"

// TestLongTrial judges the limits on 100 cracks and 20 scenes of holes of odd seeds. It repeats a
// part of the even seeds, on which the limits were chosen. All 250 cracks and 50 scenes of even
// seeds were read once: 248 lengths were within 0.5 mm, and no scene had a false flaw.
func TestLongTrial(t *testing.T) {
	judgeCracks(t, 1, 100)
	judgePores(t, 1, 20)
	judgeCracks(t, 0, 20)
	judgePores(t, 0, 4)
}

// TestCapturesLong compares the captures that TestCaptures leaves out.
func TestCapturesLong(t *testing.T) { compareCaptures(t, "tips_plate1", "weld32", "tips_weld1") }

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
