// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package pixel computes the magnitudes of the pixels of an image, their peak, and their levels in
// decibels.
//
//	pixel.Magnitude(envelope, image)
//	peak, _ := pixel.Peak(envelope)
//	l := pixel.Levels{Scale: 1 / float64(peak), Threshold: 0.01 * peak, Floor: -40}
//	pixel.Decibels(levels, envelope, l)
//
// It runs in AVX-512 instructions where the processor has them and the build does not have the tag
// purego, otherwise in plain Go. Both forms give the same bits.
package pixel

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/vector"
)

// fast says whether assembly is used.
var fast = available

// lanes is the number of pixels that the assembly takes at a time.
const lanes = 16

// Magnitude writes the magnitudes of src to dst, within 2e-7 of each. dst has the length of src.
func Magnitude(dst []float32, src []complex64) {
	dst = dst[:len(src)]
	if n := len(src) / lanes; fast && n > 0 && magnitude(&dst[0], &src[0], n) {
		dst, src = dst[n*lanes:], src[n*lanes:]
	}
	for i, v := range src {
		dst[i] = modulus(real(v), imag(v))
	}
}

// Group is the number of pixels in a group of [Planar].
const Group = 32

// Planar writes the magnitudes of unit·src to dst, with the bits of [Magnitude]. src holds groups
// of [Group] real parts and as many imaginary parts. dst has half the length of src.
func Planar(dst, src []float32, unit float32) {
	dst = dst[:len(src)/2]
	if n := len(dst) / Group; fast && n > 0 && planar(&dst[0], &src[0], n, unit) {
		return
	}
	for len(dst) > 0 {
		re, im := src[:Group], src[Group:2*Group]
		for i := range re {
			dst[i] = modulus(re[i]*unit, im[i]*unit)
		}
		dst, src = dst[Group:], src[2*Group:]
	}
}

// In single precision no square overflows or loses bits if the sum of both lies between these
// limits.
const minPower, maxPower = 0x1p-80, 0x1p+100

// modulus returns the magnitude of a complex number. It takes double precision only where single
// precision does not hold the squares.
func modulus(re, im float32) float32 {
	if power := float32(re*re) + float32(im*im); power >= minPower && power <= maxPower {
		return float32(math.Sqrt(float64(power)))
	}
	wideRe, wideIm := float64(re), float64(im)
	return float32(math.Sqrt(float64(wideRe*wideRe) + float64(wideIm*wideIm)))
}

// block is the number of elements whose peak is taken at a time.
const block = 1024

// Peak returns the largest element of src and the index of the first element that has this value.
// It returns 0, 0 if no element is above 0. NaN is ignored.
func Peak(src []float32) (peak float32, index int) {
	first, nan := 0, false // of the first block that has the peak
	for from := 0; from < len(src); from += block {
		p := vector.Peak(src[from:min(from+block, len(src))])
		nan = nan || p != p
		if p > peak {
			peak, first = p, from
		}
	}
	if i := slices.Index(src[first:min(first+block, len(src))], peak); i >= 0 && peak > 0 && !nan {
		return peak, first + i
	}
	// An element is NaN, or a negative element has the largest magnitude.
	peak, index = 0, 0
	for i, v := range src {
		if v > peak {
			peak, index = v, i
		}
	}
	return peak, index
}
