// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"
)

// shape is an indication: its peak, and the corners of its contour.
type shape struct {
	peak    r3.Vec
	contour []r3.Vec
}

// box returns an indication whose contour is a rectangle, all in mm.
func box(x, z, x0, x1, z0, z1 float64) (s shape) {
	s.peak = r3.Vec{X: x * 1e-3, Z: z * 1e-3}
	for _, p := range []r3.Vec{{X: x0, Z: z0}, {X: x1, Z: z0}, {X: x0, Z: z1}, {X: x1, Z: z1}} {
		s.contour = append(s.contour, r3.Scale(1e-3, p))
	}
	return s
}

// TestWallAt checks which indications are echoes of walls. The length of a pulse is 0.87 mm in
// notch32, and 0.60 mm for transverse waves in weld32.
func TestWallAt(t *testing.T) {
	for _, test := range []struct {
		name, capture, view string
		found               shape
		wall                string
		reason              string
	}{
		{"back wall", "notch32", "L-L", box(0, 25, -4, 4, 24.5, 25.5), "back wall", "flat, on the wall, under the array"},
		{"thinner part", "notch32", "L-L", box(0, 24, -4, 4, 23.5, 24.5), "", "the wall is 1 mm too near"},
		{"lamination", "notch32", "L-L", box(0, 12, -4, 4, 11.5, 12.5), "", "far from the wall"},
		{"notch on the wall", "notch32", "L-L", box(3, 24.8, 2, 4, 23.2, 25.5), "", "rises by 1.8 mm from the wall"},
		{"thinner by the tolerance", "notch32", "L-L", box(0, 24.7, -4, 4, 24.2, 25.2), "back wall", "0.3 mm are common in plates of 25 mm"},
		{"slit above the wall", "notch32", "L-L", box(0, 24.75, -4, 4, 24.1, 25.4), "", "one echo with the wall, but deeper than a pulse is long"},
		{"beside the array", "notch32", "L-L", box(14, 25, 13, 15, 24.5, 25.5), "", "the wall mirrors no ray of the array at x = 14 mm"},
		{"skip onto the wall", "notch32", "LL-L", box(0, 25, -4, 4, 24.5, 25), "back wall", "the second leg has no length"},
		{"corner of a notch", "weld32", "T-T", box(16, 16, 15.5, 16.5, 15.8, 16.3), "", "oblique rays are mirrored away from the array"},
		{"corner by a skip", "weld32", "TT-T", box(16, 16, 15.5, 16.5, 15.8, 16), "", "a skip does not change this"},
		{"entry surface", "pipe32", "L-L", box(0, 0.05, -1, 1, -0.3, 0.3), "entry surface", "the first echo in water"},
		{"bore", "pipe32", "L-L", box(-2.16, 14.05, -3.9, 0, 13.4, 14.6), "back wall", "curved"},
	} {
		t.Run(test.name, func(t *testing.T) {
			record, setup := openRecord(t, test.capture)
			got, err := WallAt(ctx, setup, record.Capture.Array, view(t, test.view), test.found.peak, test.found.contour, 0.1e-3)
			noError(t, err)
			if got != test.wall {
				t.Errorf("echo of %q, want %q: %s", got, test.wall, test.reason)
			}
		})
	}
}
