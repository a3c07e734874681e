// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
)

// box returns an indication with its contour from one corner to the other, in mm.
func box(x, z, x0, x1, z0, z1 float64) sizing.Indication {
	f := sizing.Indication{X: x * 1e-3, Z: z * 1e-3}
	for _, p := range []r3.Vec{{X: x0, Z: z0}, {X: x1, Z: z0}, {X: x0, Z: z1}, {X: x1, Z: z1}} {
		f.Contour = append(f.Contour, r3.Scale(1e-3, p))
	}
	return f
}

// TestRecognise checks that the echo of a wall is separated from an indication on the wall.
func TestRecognise(t *testing.T) {
	for _, test := range []struct {
		name, capture, view string
		found               sizing.Indication
		wall                string
		reason              string
	}{
		{"back wall", "notch32", "L-L", box(0, 25, -4, 4, 24.5, 25.5), "back wall", "flat, on the wall, under the array"},
		{"notch on the wall", "notch32", "L-L", box(3, 24.8, 2, 4, 23.2, 25.5), "", "rises by 1.8 mm from the wall"},
	} {
		t.Run(test.name, func(t *testing.T) {
			file := "../../testdata/" + test.capture + ".json"
			in := &inspection{options: &options{capture: file, step: 0.1e-3}, stages: &stages{}}
			if err := in.open(); err != nil {
				t.Fatal(err)
			}
			found := []sizing.Indication{test.found}
			echoes, rest, err := in.recognise(t.Context(), mustViews(test.view)[0], found)
			if err != nil {
				t.Fatal(err)
			}
			if len(echoes)+len(rest) != 1 {
				t.Fatalf("%d echoes and %d indications of one", len(echoes), len(rest))
			}
			got := ""
			if len(echoes) == 1 {
				got = echoes[0].wall
			}
			if got != test.wall {
				t.Errorf("echo of %q, want %q: %s", got, test.wall, test.reason)
			}
		})
	}
}
