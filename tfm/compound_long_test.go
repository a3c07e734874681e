// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package tfm_test

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
)

// TestCompoundReferenceLong is TestCompoundReference for more captures, through a wedge, and for
// virtual sources.
func TestCompoundReferenceLong(t *testing.T) {
	tips := []r3.Vec{{X: -6.05, Z: 8.95}, {X: -5.9, Z: 14.05}, {X: 5, Z: 19.45}}
	for _, test := range []compoundCase{
		{"notch32", "L-L", -9, 8, 6, 22, planeWaves(-55*degree, 55*degree, 61), tips, false},
		{"notch32", "L-L", -9, 8, 6, 22, virtualSources(49, 0.9e-3, 8e-3), tips, false},
		{"weld32", "T-T", 14, 24, 6, 12, planeWaves(30*degree, 80*degree, 17), []r3.Vec{{X: 20, Z: 9}}, false},
		{"weld32", "TT-T", 12, 24, 10, 15.9, planeWaves(30*degree, 80*degree, 41), []r3.Vec{{X: 16, Z: 15}}, true},
		{"sdh32", "T-T", 8, 30, 4, 24, planeWaves(25*degree, 80*degree, 61), []r3.Vec{{X: 13.25, Z: 7.35}, {X: 18.8, Z: 13.95}}, false},
	} {
		t.Run(test.name+" "+test.view, func(t *testing.T) { compareWaves(t, test) })
	}
}

func virtualSources(count int, step, behind float64) func(c *fmc.Capture, part, coupling float64) ([]fmc.Event, error) {
	return func(c *fmc.Capture, part, coupling float64) ([]fmc.Event, error) {
		var sources []r3.Vec
		for i := range count {
			sources = append(sources, r3.Vec{X: (float64(i) - float64(count-1)/2) * step, Z: -behind})
		}
		return transmit.Diverging(c.Array, coupling, sources)
	}
}
