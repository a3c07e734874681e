// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package vector

import "gonum.org/v1/gonum/blas/blas32"

// Convolve writes Σ_j x[k+j]·taps[j] to dst[k]. There is at least one tap. x has len(taps)-1
// samples more than dst, and does not overlap dst.
func Convolve(dst, x, taps []float32) {
	x = x[:len(dst)+len(taps)-1]
	n := whole(len(dst), convolveBlock)
	if n == 0 {
		clear(dst)
		for j, h := range taps {
			blas32.Axpy(h, row(x[j:j+len(dst)]), row(dst))
		}
		return
	}
	best.convolve(&dst[0], &x[0], &taps[0], len(taps), n)
	if n < len(dst) {
		// The last block overlaps the block before it, and writes the same numbers there.
		block := convolveBlock * best.lanes
		last := len(dst) - block
		best.convolve(&dst[last], &x[last], &taps[0], len(taps), block)
	}
}

// ConvolveComplex writes the real and the imaginary part of Σ_j x[k+j]·taps[j] to re[k] and im[k].
// There is at least one tap. re and im have the same length. x has len(taps)-1 samples more, and
// does not overlap re or im.
func ConvolveComplex(re, im, x []float32, taps []complex64) {
	im, x = im[:len(re)], x[:len(re)+len(taps)-1]
	n := whole(len(re), complexBlock)
	if n == 0 {
		clear(re)
		clear(im)
		for j, h := range taps {
			near := row(x[j : j+len(re)])
			blas32.Axpy(real(h), near, row(re))
			blas32.Axpy(imag(h), near, row(im))
		}
		return
	}
	best.convolveComplex(&re[0], &im[0], &x[0], &taps[0], len(taps), n)
	if n < len(re) {
		block := complexBlock * best.lanes
		last := len(re) - block
		best.convolveComplex(&re[last], &im[last], &x[last], &taps[0], len(taps), block)
	}
}
