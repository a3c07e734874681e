// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package vector holds what conditioning does to whole rows of samples: in
// AVX-512 instructions where the processor has them and the build is not tagged
// purego, otherwise by gonum's kernels and plain Go. The two agree to rounding.
package vector

// Sum returns the sum of src in float64: NaN or Inf if and only if a sample is.
func Sum(src []float32) float64 {
	n := 0
	var lanes [8]float64
	if Available && len(src) >= 32 {
		n = len(src) &^ 31
		sum(&src[0], n/32, &lanes)
	}
	total := plainSum(src[n:])
	for _, v := range lanes {
		total += v
	}
	return total
}

// Shift adds by to every sample of dst.
func Shift(dst []float32, by float32) {
	n := 0
	if Available && len(dst) >= 16 {
		n = len(dst) &^ 15
		shift(&dst[0], n/16, by)
	}
	plainShift(dst[n:], by)
}

// Multiply multiplies dst by weights, of its length.
func Multiply(dst, weights []float32) {
	n := 0
	dst = dst[:len(weights)]
	if Available && len(dst) >= 16 {
		n = len(dst) &^ 15
		multiply(&dst[0], &weights[0], n/16)
	}
	plainMultiply(dst[n:], weights[n:])
}

// Convolve writes Σ_j x[k+j]·taps[j] to dst[k]. There is at least one tap, x has
// len(taps)−1 samples more than dst, and the two do not overlap.
func Convolve(dst, x, taps []float32) {
	const block = 128
	n := len(dst)
	if !Available || n < block {
		plainConvolve(dst, x, taps)
		return
	}
	_, _ = x[n+len(taps)-2], taps[0]
	convolve(&dst[0], &x[0], &taps[0], len(taps), n/block)
	if n%block > 0 {
		// The last block overlaps the one before it, and writes the same there.
		convolve(&dst[n-block], &x[n-block], &taps[0], len(taps), 1)
	}
}
