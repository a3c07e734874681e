// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package adapt

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestSurfaceCoverageLong holds the uncertainty of the depth to the truth, on surfaces that were
// not used to choose settings. Each family has 60 captures. Over all families the intervals of 95 %
// hold the truth at 93 to 97 % of the places.
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

// TestFocusCoverageLong does the same for the speed, the angle, the thickness and the height from
// sharpness. It repeats 20 of the 100 captures of each family on which the documentation of the
// package reports. All 798 determined captures gave a share of 0.939. The families gave 0.91 to
// 1.00, and not each of them 0.93 to 0.97.
func TestFocusCoverageLong(t *testing.T) {
	const trials = 20
	var all tally
	count := func(name string, n tally) {
		t.Logf("%s: %d of %d determined, %d hold the truth", name, n.determined, trials, n.inside)
		// At 95 %, 15 or fewer of 20 have a chance of 0.3 %.
		if n.determined < trials*3/4 || !(n.share() >= 0.79) {
			t.Errorf("%s: %d of %d are determined, %d intervals of 95 %% hold the truth", name, n.determined, trials, n.inside)
		}
		all.inside, all.determined = all.inside+n.inside, all.determined+n.determined
	}
	for _, b := range judgedBlocks {
		count(b.name, b.tally(t, 30000, trials))
	}
	for _, f := range judgedFamilies {
		count(f.name, f.tally(t, 30000, trials))
	}
	// The share of 160 captures is good to 0.017. The limits lie three times as far from 0.95:
	// some intervals must miss the truth, too.
	if !(all.share() >= 0.90 && all.share() < 1) {
		t.Errorf("the intervals of 95 %% hold the truth in a share of %.3f of all captures", all.share())
	}
}

// TestWrongSpeed checks the loss by a wrong speed against an independent direct sum over pulses of
// a bandwidth of 60 %, at a depth of 30 mm under 64 elements (wavelength 1.184 mm), and at 60 mm
// under 32 elements. The peak moves by 1.08 times the error of the speed.
func TestWrongSpeed(t *testing.T) {
	b := block{elements: 64, pitch: 0.6e-3, frequency: 5e6, rate: 100e6, speed: 5920, holes: []r3.Vec{{Z: 30e-3}}}
	narrow := block{elements: 32, pitch: 0.6e-3, frequency: 5e6, rate: 100e6, speed: 5920, holes: []r3.Vec{{Z: 60e-3}}}
	captures := map[int]*fmc.Capture{64: b.capture(), 32: narrow.capture()}
	for _, test := range []struct {
		name        string
		block       block
		errors      float64
		loss, depth float64 // dB, m
	}{
		{"64 elements, +2 %", b, 0.02, -1.069, 30.648e-3},
		{"64 elements, -2 %", b, -0.02, -1.198, 29.356e-3},
		{"64 elements, +1 %", b, 0.01, -0.276, 30.325e-3},
		{"32 elements, +5 %", narrow, 0.05, -0.116, 63.026e-3},
	} {
		c := captures[test.block.elements]
		level := func(speed, depth float64) (float64, float64) {
			region := check.Must(tfm.NewSection(-0.1e-3, 0.1e-3, depth-0.4e-3, depth+0.4e-3, 0.05e-3))
			f := check.Must(newFocuser(c, "L-L", []tfm.Grid{region}, PartSpeed(test.block.setup(), c.Array.Elements, material.L),
				wedge.Interval{Min: 5000, Max: 7000}, nil))
			check.Must(0, f.prepare())
			s := check.Must(f.sums(t.Context(), speed))[0]
			e := (&tfm.Image{Grid: region, Data: s.image}).Envelope(nil)
			top, at, _, _ := peak(e.Data, region.Cols, region.Rows)
			return top, region.Point(at).Z
		}
		right, _ := level(5920, test.block.holes[0].Z)
		wrong, z := level(5920*(1+test.errors), test.depth)
		check.Within(t, test.name+": loss, dB", wrong-right, test.loss, 0.03)
		check.Within(t, test.name+": depth, m", z, test.depth, 0.05e-3)
	}
}
