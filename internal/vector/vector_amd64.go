// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package vector

import "golang.org/x/sys/cpu"

// available returns the forms that this processor can run, the fastest first.
func available() (forms []assembly) {
	if cpu.X86.HasAVX512F && cpu.X86.HasAVX512DQ {
		forms = append(forms, assembly{"AVX512", 16, sumAVX512, shiftAVX512, multiplyAVX512,
			addInt16AVX512, addFloat32AVX512, peakAVX512, packAVX512, scaleAVX512,
			packBytesAVX512, scaleBytesAVX512,
			convolveAVX512, convolveComplexAVX512})
	}
	if cpu.X86.HasAVX2 && cpu.X86.HasFMA {
		forms = append(forms, assembly{"AVX2", 8, sumAVX2, shiftAVX2, multiplyAVX2,
			addInt16AVX2, addFloat32AVX2, peakAVX2, packAVX2, scaleAVX2,
			packBytesAVX2, scaleBytesAVX2,
			convolveAVX2, convolveComplexAVX2})
	}
	return forms
}

func sumAVX512(src *float32, n int) float64
func shiftAVX512(dst *float32, n int, by float32)
func multiplyAVX512(dst, weights *float32, n int)
func addInt16AVX512(dst *float32, src *int16, n int, weight float32)
func addFloat32AVX512(dst, src *float32, n int, weight float32)
func peakAVX512(src *float32, n int) float32
func packAVX512(dst *int16, src *float32, n int, scale float32)
func scaleAVX512(dst *int16, n int, by float32)
func packBytesAVX512(low, high *uint8, src *float32, n int, scale float32)
func scaleBytesAVX512(low, high *uint8, n int, by float32)
func convolveAVX512(dst, x, taps *float32, count, n int)
func convolveComplexAVX512(re, im, x *float32, taps *complex64, count, n int)

func sumAVX2(src *float32, n int) float64
func shiftAVX2(dst *float32, n int, by float32)
func multiplyAVX2(dst, weights *float32, n int)
func addInt16AVX2(dst *float32, src *int16, n int, weight float32)
func addFloat32AVX2(dst, src *float32, n int, weight float32)
func peakAVX2(src *float32, n int) float32
func packAVX2(dst *int16, src *float32, n int, scale float32)
func scaleAVX2(dst *int16, n int, by float32)
func packBytesAVX2(low, high *uint8, src *float32, n int, scale float32)
func scaleBytesAVX2(low, high *uint8, n int, by float32)
func convolveAVX2(dst, x, taps *float32, count, n int)
func convolveComplexAVX2(re, im, x *float32, taps *complex64, count, n int)
