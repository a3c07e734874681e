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

// Magnitude writes the magnitudes of src to dst. dst has the length of src.
func Magnitude(dst []float32, src []complex64) {
	dst = dst[:len(src)]
	if n := len(src) / lanes; fast && n > 0 {
		magnitude(&dst[0], &src[0], n)
		dst, src = dst[n*lanes:], src[n*lanes:]
	}
	for i, v := range src {
		re, im := float64(real(v)), float64(imag(v))
		dst[i] = float32(math.Sqrt(float64(re*re) + float64(im*im)))
	}
}

// Peak returns the largest element of src and the index of the first element that has this value.
// It returns 0, 0 if no element is above 0. NaN is ignored.
func Peak(src []float32) (peak float32, index int) {
	if peak = vector.Peak(src); peak > 0 {
		if index = slices.Index(src, peak); index >= 0 {
			return peak, index
		}
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
