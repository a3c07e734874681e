// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import "math"

// SixDB is the 6 dB drop of the trade in decibels: the drop to exactly half the
// amplitude, 20·log10 2.
const SixDB = 6.020599913279624

// LevelDB returns the level of amplitude relative to reference in decibels,
// 20·log10(amplitude/reference). It is negative infinity for an amplitude of 0 and
// NaN for a negative amplitude or a reference that is not above 0.
func LevelDB(amplitude, reference float64) float64 {
	if !(amplitude >= 0) || !(reference > 0) {
		return math.NaN()
	}
	return 20 * math.Log10(amplitude/reference)
}

// Ratio returns the ratio of amplitudes whose level is db decibels, 10^(db/20).
func Ratio(db float64) float64 { return math.Pow(10, db/20) }
