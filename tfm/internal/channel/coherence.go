// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package channel

import "math"

// AuxiliaryVariance returns the variance of the auxiliary phase φ - π·sign φ, whose square is
// φ² - 2π·|φ| + π², from the means of φ, φ², sign φ and |φ|.
func AuxiliaryVariance(phase, square, side, distance float64) float64 {
	mean := phase - math.Pi*side
	return square - 2*math.Pi*distance + math.Pi*math.Pi - mean*mean
}

// PhaseCoherences sets dst to max(0, 1 - slope·σ), from the sums of φ and φ² of 1/share channels, and of
// sign φ and |φ|. σ is the lower of the standard deviations of φ and of the auxiliary phase, or the
// first one if auxiliary is nil. All slices have the length of dst.
func PhaseCoherences(dst []float32, moments, auxiliary []complex64, share, slope float64) {
	n := len(dst)
	moments = moments[:n]
	if auxiliary != nil {
		auxiliary = auxiliary[:n]
	}
	done := 0
	if fast && n >= wideLanes {
		done = n / wideLanes * wideLanes
		var others *complex64
		if auxiliary != nil {
			others = &auxiliary[0]
		}
		phaseCoherences(&dst[0], &moments[0], others, done/wideLanes, share, slope)
	}
	for p := done; p < n; p++ {
		s := moments[p]
		mean, square := float64(real(s))*share, float64(imag(s))*share
		variance := square - mean*mean
		if auxiliary != nil {
			s := auxiliary[p]
			variance = min(variance, AuxiliaryVariance(mean, square, float64(real(s))*share, float64(imag(s))*share))
		}
		dst[p] = float32(max(0, 1-slope*math.Sqrt(max(0, variance))))
	}
}

// wideLanes is the number of pixels that the assembly takes at a time.
const wideLanes = 8
