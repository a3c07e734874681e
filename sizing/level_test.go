// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/sizing"
)

func TestLevelDB(t *testing.T) {
	for _, test := range []struct {
		name, reason                 string
		amplitude, reference, levels float64
	}{
		{"equal", "0 dB by definition", 3, 3, 0},
		{"twice", "20·log10 2", 2, 1, sizing.SixDB},
		{"half", "the 6 dB drop", 1, 2, -sizing.SixDB},
		{"ten", "20 dB a decade", 10, 1, 20},
		{"nothing", "no level is low enough", 0, 1, math.Inf(-1)},
	} {
		t.Run(test.name, func(t *testing.T) {
			got := sizing.LevelDB(test.amplitude, test.reference)
			if !(got == test.levels || math.Abs(got-test.levels) <= 1e-14) {
				t.Errorf("level %v dB, want %v: %s", got, test.levels, test.reason)
			}
			if back := sizing.Ratio(got); !(math.Abs(back-test.amplitude/test.reference) <= 1e-14*back) {
				t.Errorf("ratio %v, want %v", back, test.amplitude/test.reference)
			}
		})
	}
	for _, pair := range [][2]float64{{-1, 1}, {math.NaN(), 1}, {1, 0}, {1, -1}, {1, math.NaN()}} {
		if got := sizing.LevelDB(pair[0], pair[1]); !math.IsNaN(got) {
			t.Errorf("level of %v relative to %v: %v, want NaN", pair[0], pair[1], got)
		}
	}
}

// The 6 dB drop falls to half exactly, so that a saddle at half the amplitude is
// at the drop on every machine.
func TestSixDBIsHalf(t *testing.T) {
	if got := sizing.Ratio(-sizing.SixDB); got != 0.5 {
		t.Errorf("ratio %v, want 0.5", got)
	}
}
