// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build amd64 && !purego

package avx512

import (
	"slices"

	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/tfm/internal/pixel"
)

// Pixels returns the operations on pixels.
func Pixels() pixel.Ops {
	return pixel.Ops{Magnitude: magnitudeSlices, Decibels: decibelsSlices, Peak: peakPixel}
}

// lanes is the number of pixels in a vector.
const lanes = 16

func magnitudeSlices(dst []float32, src []complex64) {
	n := len(src) / lanes
	if n > 0 {
		_ = dst[n*lanes-1]
		magnitude(&dst[0], &src[0], n)
	}
	pixel.Magnitude(dst[n*lanes:], src[n*lanes:])
}

func decibelsSlices(dst, src []float32, l pixel.Levels) {
	n := len(src) / lanes
	if n > 0 {
		_ = dst[n*lanes-1]
		if !decibels(&dst[0], &src[0], n, l.Scale, l.Threshold, l.Floor) {
			n = 0
		}
	}
	pixel.Decibels(dst[n*lanes:], src[n*lanes:], l)
}

func peakPixel(src []float32) (peak float32, index int) {
	peak = vector.Peak(src)
	if index = slices.Index(src, peak); index < 0 {
		return pixel.Peak(src) // the peak is that of a negative element, or not a number
	}
	return peak, index
}

// In the assembly a vector is of 16 pixels, and all counts are at least 1.

//go:noescape
func magnitude(dst *float32, src *complex64, vectors int)

// decibels reports whether all ratios above the threshold were normal numbers in
// single precision; if not, dst is of no use.
//
//go:noescape
func decibels(dst, src *float32, vectors int, scale float64, threshold, floor float32) (ok bool)

// writeBlock writes the accumulators of a whole block, times unit, to the pixels of an
// image with rows a stride of bytes apart.
//
//go:noescape
func writeBlock(dst *complex64, stride uintptr, acc *float32, unit float32)
