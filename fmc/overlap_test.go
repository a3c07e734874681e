// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestOverlap checks that elements that overlap cannot work together. The values are invented.
func TestOverlap(t *testing.T) {
	row := []r3.Vec{{X: -1e-3}, {X: 1e-3}, {X: 0}} // 1 mm apart, in no order
	tilted := []r3.Vec{{X: -0.8e-3, Z: -1e-3}, {Z: -1.6e-3}, {X: 0.8e-3, Z: -2.2e-3}}
	column := []r3.Vec{{Y: 0}, {Y: 0.5e-3}, {Y: 1e-3}}
	arc := []r3.Vec{{X: -1e-3, Z: 0.3e-3}, {X: 0}, {X: 1e-3, Z: 0.3e-3}}
	echoes := []Pair{{0, 0}, {1, 1}, {2, 2}}
	together := []Event{{Delays: make([]float64, 3), Weights: []float64{1, 1, 1}}}
	for _, test := range []struct {
		name, reason string
		elements     []r3.Vec
		width        float64
		events       []Event
		pairs        []Pair
		want         string // "" for a sound capture
	}{
		{"edge to edge", "the width is the distance", row, 1e-3, nil, FullPairs(3), ""},
		{"wider", "neighbours overlap", row, 1.1e-3, nil, FullPairs(3),
			"element width 0.0011 m: want at most 0.001 m"},
		{"width in mm", "a slip", row, 0.9, nil, HalfPairs(3), "element width 0.9 m: want at most"},
		{"on a wedge", "1 mm apart along a slope", tilted, 1.1e-3, nil, FullPairs(3),
			"element width 0.0011 m"},
		{"moved element", "one element records its own echo at each place", row, 1.1e-3, nil,
			echoes, ""},
		{"distant pair", "elements 0 and 1 are 2 mm apart", row, 1.1e-3, nil, []Pair{{0, 1}}, ""},
		{"near pair", "elements 0 and 2 are 1 mm apart", row, 1.1e-3, nil, []Pair{{0, 1}, {0, 2}},
			"pair 1"},
		{"event", "all fire at once", row, 1.1e-3, together, EventPairs(1, 3), "of an event"},
		{"column along y", "the width is along x", column, 0.9e-3, nil, FullPairs(3), ""},
		{"arc", "elements that face each other may be closer than their width", arc, 1.1e-3,
			nil, FullPairs(3), ""},
		{"single element", "nothing to overlap", row[:1], 1, nil, FullPairs(1), ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := New(Capture{
				Array: Array{Elements: test.elements, Width: test.width, CentreFrequency: 5e6,
					Bandwidth: 0.6},
				Events: test.events, Pairs: test.pairs, Samples: 1, SampleRate: 50e6,
			})
			if test.want != "" {
				check.Error(t, err, "fmc: ", test.want)
			} else if err != nil {
				t.Errorf("%s: %v", test.reason, err)
			}
		})
	}
}
