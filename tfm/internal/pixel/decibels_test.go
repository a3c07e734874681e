// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package pixel

import (
	"math"
	"testing"
)

// TestOf compares with the logarithm of package math. It takes all magnitudes that a float32 can
// have, and many near 1.
func TestOf(t *testing.T) {
	check := func(ratio float64) {
		want := 20 * math.Log10(ratio)
		// The last bit of a float32 beyond 512 dB is up to 6e-5 dB.
		l := Levels{Scale: ratio}
		if got := float64(l.of(1, float32(ratio))); !(math.Abs(got-want) <= 1e-5+1.2e-7*math.Abs(want)) {
			t.Fatalf("%v dB for a ratio of %g, want %v", got, ratio, want)
		}
	}
	for ratio := 1e-42; ratio < 1e42; ratio *= 1.0137 {
		check(ratio)
	}
	for ratio := 0.5; ratio < 2.1; ratio += 1e-4 {
		check(ratio)
	}
}
