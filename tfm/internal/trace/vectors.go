// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package trace

// Vectors are the operations in assembly, on whole vectors of Lanes elements. Blocks
// of Convolve are of four vectors. Counts are at least 1.
type Vectors struct {
	Lanes      int
	Convolve   func(re, im, x *float32, taps *complex64, n, blocks int)
	AddInt16   func(dst *float32, src *int16, vectors int, weight float32)
	AddFloat32 func(dst, src *float32, vectors int, weight float32)
	Sum        func(src *float32, vectors int) float32
	Shift      func(dst *float32, vectors int, by float32)
	Peak       func(src *float32, n int) float32 // of n elements, at least one vector
	Pack       func(dst *int16, src *float32, vectors int, scale float32)
	Scale      func(dst *int16, vectors int, by float32)
}

// Ops returns the operations for slices of any length: what is left of them behind the
// whole vectors is done in plain Go.
func (v *Vectors) Ops() Ops {
	return Ops{v.convolve, v.addInt16, v.addFloat32, v.sum, v.shift, v.peak, v.pack, v.scale}
}

// whole returns the number of whole vectors in n elements, and of the elements in them.
func (v *Vectors) whole(n int) (vectors, elements int) {
	vectors = n / v.Lanes
	return vectors, vectors * v.Lanes
}

func (v *Vectors) convolve(re, im, x []float32, taps []complex64) {
	block := 4 * v.Lanes
	blocks := len(re) / block
	n := blocks * block
	if blocks > 0 && len(taps) > 0 {
		_, _ = im[n-1], x[n+len(taps)-2]
		v.Convolve(&re[0], &im[0], &x[0], &taps[0], len(taps), blocks)
		re, im, x = re[n:], im[n:], x[n:]
	}
	Convolve(re, im, x, taps)
}

func (v *Vectors) addInt16(dst []float32, src []int16, weight float32) {
	vectors, n := v.whole(len(src))
	if vectors > 0 {
		_ = dst[n-1]
		v.AddInt16(&dst[0], &src[0], vectors, weight)
	}
	AddInt16(dst[n:], src[n:], weight)
}

func (v *Vectors) addFloat32(dst, src []float32, weight float32) {
	vectors, n := v.whole(len(src))
	if vectors > 0 {
		_ = dst[n-1]
		v.AddFloat32(&dst[0], &src[0], vectors, weight)
	}
	AddFloat32(dst[n:], src[n:], weight)
}

func (v *Vectors) sum(src []float32) float64 {
	sum := 0.0
	vectors, n := v.whole(len(src))
	if vectors > 0 {
		sum = float64(v.Sum(&src[0], vectors))
	}
	return sum + Sum(src[n:])
}

func (v *Vectors) shift(dst []float32, by float32) {
	vectors, n := v.whole(len(dst))
	if vectors > 0 {
		v.Shift(&dst[0], vectors, by)
	}
	Shift(dst[n:], by)
}

func (v *Vectors) peak(src []float32) float32 {
	if len(src) < v.Lanes {
		return Peak(src)
	}
	return v.Peak(&src[0], len(src))
}

func (v *Vectors) pack(dst []int16, src []float32, scale float32) {
	vectors, n := v.whole(len(src))
	if vectors > 0 {
		_ = dst[n-1]
		v.Pack(&dst[0], &src[0], vectors, scale)
	}
	Pack(dst[n:], src[n:], scale)
}

func (v *Vectors) scale(dst []int16, by float32) {
	vectors, n := v.whole(len(dst))
	if vectors > 0 {
		v.Scale(&dst[0], vectors, by)
	}
	Scale(dst[n:], by)
}
