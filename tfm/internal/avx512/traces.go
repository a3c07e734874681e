// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build amd64 && !purego

package avx512

import "github.com/isochron-imaging/isochron/tfm/internal/trace"

// Ops returns the operations on traces.
func Ops() trace.Ops {
	return trace.Ops{
		Convolve:   convolveSlices,
		AddInt16:   addInt16Slices,
		AddFloat32: addFloat32Slices,
		Sum:        sumSlice,
		Shift:      shiftSlice,
		Peak:       peakSlice,
		Pack:       packSlices,
		Scale:      scaleSlice,
	}
}

// lanes is the number of float32 in a register. What is left of a slice is done in
// plain Go.
const lanes = 16

func convolveSlices(re, im, x []float32, taps []complex64) {
	const block = 4 * lanes
	n := len(re) / block
	if n > 0 && len(taps) > 0 {
		_, _ = im[n*block-1], x[n*block+len(taps)-2]
		convolve(&re[0], &im[0], &x[0], &taps[0], len(taps), n)
	}
	trace.Convolve(re[n*block:], im[n*block:], x[n*block:], taps)
}

func addInt16Slices(dst []float32, src []int16, weight float32) {
	n := len(src) / lanes
	if n > 0 {
		_ = dst[n*lanes-1]
		addInt16(&dst[0], &src[0], n, weight)
	}
	trace.AddInt16(dst[n*lanes:], src[n*lanes:], weight)
}

func addFloat32Slices(dst, src []float32, weight float32) {
	n := len(src) / lanes
	if n > 0 {
		_ = dst[n*lanes-1]
		addFloat32(&dst[0], &src[0], n, weight)
	}
	trace.AddFloat32(dst[n*lanes:], src[n*lanes:], weight)
}

func sumSlice(src []float32) float64 {
	var partial [lanes]float32
	n := len(src) / lanes
	if n > 0 {
		sum(&src[0], n, &partial)
	}
	return trace.Sum(partial[:]) + trace.Sum(src[n*lanes:])
}

func shiftSlice(dst []float32, by float32) {
	n := len(dst) / lanes
	if n > 0 {
		shift(&dst[0], n, by)
	}
	trace.Shift(dst[n*lanes:], by)
}

func peakSlice(src []float32) float32 {
	if len(src) < lanes {
		return trace.Peak(src)
	}
	return peak(&src[0], len(src))
}

func packSlices(dst []int16, src []float32, by float32) {
	n := len(src) / lanes
	if n > 0 {
		_ = dst[n*lanes-1]
		pack(&dst[0], &src[0], n, by)
	}
	trace.Pack(dst[n*lanes:], src[n*lanes:], by)
}

func scaleSlice(dst []int16, by float32) {
	n := len(dst) / lanes
	if n > 0 {
		scale(&dst[0], n, by)
	}
	trace.Scale(dst[n*lanes:], by)
}

// In the assembly a vector is of 16 elements, and all counts are at least 1.

//go:noescape
func convolve(re, im, x *float32, taps *complex64, n, blocks int)

//go:noescape
func addInt16(dst *float32, src *int16, vectors int, weight float32)

//go:noescape
func addFloat32(dst, src *float32, vectors int, weight float32)

//go:noescape
func sum(src *float32, vectors int, lanes *[16]float32)

//go:noescape
func shift(dst *float32, vectors int, by float32)

// peak takes at least one vector of n elements.
//
//go:noescape
func peak(src *float32, n int) float32

//go:noescape
func pack(dst *int16, src *float32, vectors int, scale float32)

//go:noescape
func scale(dst *int16, vectors int, by float32)
