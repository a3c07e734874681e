// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package vector

// available returns the forms that this processor can run: each arm64 processor has NEON.
func available() []assembly {
	return []assembly{{"NEON", 4, sumNEON, sumInt16NEON, nil, setInt16NEON, shiftNEON, multiplyNEON,
		addInt16NEON, addFloat32NEON, peakNEON, packNEON, scaleNEON, nil, nil, nil, nil, nil,
		convolveNEON, convolveComplexNEON, nil, nil, nil, nil}}
}

func sumNEON(src *float32, n int) float64
func sumInt16NEON(src *int16, n int) int32
func setInt16NEON(dst *float32, src *int16, n int, weight, offset float32)
func shiftNEON(dst *float32, n int, by float32)
func multiplyNEON(dst, weights *float32, n int)
func addInt16NEON(dst *float32, src *int16, n int, weight float32)
func addFloat32NEON(dst, src *float32, n int, weight float32)
func peakNEON(src *float32, n int) float32
func packNEON(dst *int16, src *float32, n int, scale float32)
func scaleNEON(dst *int16, n int, by float32)
func convolveNEON(dst, x, taps *float32, count, n int)
func convolveComplexNEON(re, im, x *float32, taps *complex64, count, n int)
