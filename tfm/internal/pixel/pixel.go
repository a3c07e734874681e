// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package pixel holds what is done to every pixel of an image after the sum, in plain
// Go: what the same operations in assembly must equal, bit for bit.
package pixel

import "math"

// Ops are the operations, in plain Go or in assembly. The functions of this package
// of the same names say what each does.
type Ops struct {
	Magnitude func(dst []float32, src []complex64)
	Decibels  func(dst, src []float32, l Levels)
	Peak      func(src []float32) (peak float32, index int)
}

// Plain returns the operations in plain Go.
func Plain() Ops { return Ops{Magnitude, Decibels, Peak} }

// Magnitude writes the magnitudes of src to dst, of its length.
func Magnitude(dst []float32, src []complex64) {
	for i, v := range src {
		re, im := float64(real(v)), float64(imag(v))
		dst[i] = float32(math.Sqrt(float64(re*re) + float64(im*im)))
	}
}

// Peak returns the largest element of src and the index of the first one that has
// it, and 0, 0 if none is above 0.
func Peak(src []float32) (peak float32, index int) {
	for i, v := range src {
		if v > peak {
			peak, index = v, i
		}
	}
	return peak, index
}
