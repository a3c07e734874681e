//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
)

// TestFieldLong is TestField with many more reflectors.
func TestFieldLong(t *testing.T) { testField(t, 7, 5, 11) }

// TestSkipsLong covers the field of a full-skip view, also where the reflected beam is shifted:
// near the critical angle of the back wall, the peaks lie up to 3 mm beside the holes.
func TestSkipsLong(t *testing.T) {
	b := newBench(true)
	g := check.Must(tfm.NewSection(18e-3, 54e-3, 2e-3, 24.8e-3, 0.15e-3))
	hole := func(p r3.Vec) synth.Reflector { return synth.Hole{X: p.X, Z: p.Z, Diameter: 1.5e-3} }
	var before, after []float64
	for _, r := range b.readings(t, "TT-TT", g, Hole{1.5e-3}, lattice(22e-3, 50e-3, 6e-3, 21e-3, 6, 4), hole, 3.6e-3) {
		before, after = append(before, decibels(r.image)), append(after, decibels(r.corrected))
	}
	if len(after) < 22 {
		t.Errorf("%d holes within 20 dB of the best place: want 22", len(after))
	}
	if got := spread(before); !(got >= 13) {
		t.Errorf("levels spread over %.2f dB without correction: want 13 dB at least, or the test shows nothing", got)
	}
	if got := spread(after); !(got <= 2) {
		t.Errorf("corrected levels spread over %.2f dB: want 2 dB at most", got)
	}
	t.Logf("%d holes: spread %.2f dB, corrected %.2f dB", len(after), spread(before), spread(after))
}
