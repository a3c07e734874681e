//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"testing"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// The long forms of the trials.

func TestCutLong(t *testing.T) { trialCut(t, 600).judge(t, 200) }

func TestMergedLong(t *testing.T) { trialMerged(t, 2000, 1).judge(t, 80) }

func TestResolutionLong(t *testing.T) {
	o := trialResolution(t, 500, 1)
	t.Logf("%+v", o)
	o.judge(t, 100)
}

func TestNoiseAloneLong(t *testing.T) {
	const n = 900
	listed := trialNoise(t, n)
	t.Logf("false indications in %d of %d pictures of noise alone", listed, n)
	if listed > n*4/100 {
		t.Errorf("false indications in %d of %d pictures of noise alone, want 4 %% at most", listed, n)
	}
}

func TestNoiseOfCapturesLong(t *testing.T) {
	listed := trialCaptures(t, []int{0, 1, 2, 3, 4, 5, 6}, []float64{-1, -2, -3, -4, -5})
	t.Logf("false indications in %d of 35 pictures of noise alone", listed)
	if listed > 2 {
		t.Errorf("false indications in %d of 35 pictures of noise alone, want 2 at most", listed)
	}
}

// TestFloorsOfCaptures logs the default floors of the captures with and without noise. The floor
// must not fall as the noise rises.
func TestFloorsOfCaptures(t *testing.T) {
	last := 0.0
	floors(t, []int{0, 1, 2, 3, 4, 5, 6}, []float64{0, 0.003, 0.01, 0.03}, func(name string, noise float64, env *tfm.Envelope, n sizing.Noise, found []sizing.Indication) {
		peak, _ := env.Peak()
		floor := sizing.LevelDB(n.Floor(0.02), float64(peak))
		t.Logf("%s, noise %g: level %.1f dB, floor %.1f dB, %.0f cells, %d indications", name, noise, sizing.LevelDB(n.Level, float64(peak)), floor, n.Cells, len(found))
		if noise > 0 && !(floor > last-0.2) {
			t.Errorf("%s: floor %v dB at a noise of %v, %v dB at less noise", name, floor, noise, last)
		}
		last = floor
	})
}
