// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package vector

import "gonum.org/v1/gonum/blas/blas32"

// ones stand for a row of ones of any length: gonum has a fast scalar product,
// and no fast sum.
var ones = func() (s [256]float32) {
	for i := range s {
		s[i] = 1
	}
	return s
}()

func plainSum(src []float32) float64 {
	total := 0.0
	for len(src) > 0 {
		n := min(len(src), len(ones))
		total += blas32.DDot(row(src[:n]), row(ones[:n]))
		src = src[n:]
	}
	return total
}

func plainShift(dst []float32, by float32) {
	for i := range dst {
		dst[i] += by
	}
}

func plainMultiply(dst, weights []float32) {
	dst = dst[:len(weights)]
	for i, w := range weights {
		dst[i] *= w
	}
}

// plainConvolve adds the shifted rows one by one.
func plainConvolve(dst, x, taps []float32) {
	clear(dst)
	for j, h := range taps {
		blas32.Axpy(h, row(x[j:j+len(dst)]), row(dst))
	}
}

func row(s []float32) blas32.Vector { return blas32.Vector{N: len(s), Inc: 1, Data: s} }
