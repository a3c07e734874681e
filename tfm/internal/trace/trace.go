// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package trace holds what is done to every sample of every trace before the sum, in
// plain Go: what the same operations in assembly must equal.
package trace

import "math"

// Ops are the operations, in plain Go or in assembly. The functions of this package
// of the same names say what each does.
type Ops struct {
	Convolve   func(re, im, x []float32, taps []complex64)
	AddInt16   func(dst []float32, src []int16, weight float32)
	AddFloat32 func(dst, src []float32, weight float32)
	Sum        func(src []float32) float64
	Shift      func(dst []float32, by float32)
	Peak       func(src []float32) float32
	Pack       func(dst []int16, src []float32, scale float32)
	Scale      func(dst []int16, by float32)
}

// Plain returns the operations in plain Go.
func Plain() Ops {
	return Ops{Convolve, AddInt16, AddFloat32, Sum, Shift, Peak, Pack, Scale}
}

// Convolve writes Σ_j x[k+j]·taps[j] to re[k] + i·im[k], in single precision.
// im has the length of re, x that and len(taps)-1 samples more.
func Convolve(re, im, x []float32, taps []complex64) {
	for k := range re {
		var sumRe, sumIm float32
		for j, h := range taps {
			sumRe += x[k+j] * real(h)
			sumIm += x[k+j] * imag(h)
		}
		re[k], im[k] = sumRe, sumIm
	}
}

// AddInt16 adds weight·src to dst, of its length.
func AddInt16(dst []float32, src []int16, weight float32) {
	for i, v := range src {
		dst[i] += weight * float32(v)
	}
}

// AddFloat32 adds weight·src to dst, of its length.
func AddFloat32(dst, src []float32, weight float32) {
	for i, v := range src {
		dst[i] += weight * v
	}
}

// Sum returns the sum of src.
func Sum(src []float32) float64 {
	sum := 0.0
	for _, v := range src {
		sum += float64(v)
	}
	return sum
}

// Shift adds by to every element of dst.
func Shift(dst []float32, by float32) {
	for i := range dst {
		dst[i] += by
	}
}

// Peak returns the largest magnitude in src, 0 if src is empty, and a NaN if an element
// is one.
func Peak(src []float32) float32 {
	peak := float32(0)
	for _, v := range src {
		peak = max(peak, v, -v)
	}
	return peak
}

// Pack rounds scale·src, which must be within 16 bits, to dst, of its length.
func Pack(dst []int16, src []float32, scale float32) {
	for i, v := range src {
		dst[i] = int16(math.RoundToEven(float64(v * scale)))
	}
}

// Scale multiplies dst by a factor from 0 to 1 and rounds.
func Scale(dst []int16, by float32) {
	for i, v := range dst {
		dst[i] = int16(math.RoundToEven(float64(float32(v) * by)))
	}
}
