// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import "math"

// SixDB is the 6 dB drop in decibels, 20·log10 2: the drop to exactly half of the amplitude.
// Like each drop, it is a positive number.
const SixDB = 6.020599913279624

// LevelDB returns the level of amplitude relative to reference in decibels,
// 20·log10(amplitude/reference). It is below 0 if the amplitude is below the reference. It is
// negative infinity for an amplitude of 0, and NaN for a negative amplitude or a reference that is
// not above 0.
func LevelDB(amplitude, reference float64) float64 {
	if !(amplitude >= 0) || !(reference > 0) {
		return math.NaN()
	}
	return 20 * math.Log10(amplitude/reference)
}

// Ratio returns the ratio of an amplitude to its reference for a level in decibels, 10^(level/20).
// A drop is a level with the opposite sign: Ratio(-SixDB) is 0.5.
func Ratio(level float64) float64 { return math.Pow(10, level/20) }
