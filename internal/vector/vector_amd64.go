// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package vector

import "golang.org/x/sys/cpu"

// available returns the forms that this processor can run, the fastest first.
func available() (forms []assembly) {
	if cpu.X86.HasAVX512F && cpu.X86.HasAVX512BW && cpu.X86.HasAVX512DQ {
		forms = append(forms, assembly{"AVX512", 16, sumAVX512, sumInt16AVX512, loadAVX512, setInt16AVX512, shiftAVX512, multiplyAVX512,
			addInt16AVX512, addFloat32AVX512, peakAVX512, packAVX512, scaleAVX512,
			extendAVX512, rangeInt16AVX512, combineAVX512, packBytesAVX512, scaleBytesAVX512,
			convolveAVX512, convolveComplexAVX512,
			interleaveAVX512, convolveHermitianAVX512,
			interleaveInt16AVX512, convolveInt16AVX512})
		if cpu.X86.HasAVX512VNNI {
			vnni := forms[0]
			vnni.convolveInt16 = convolveInt16VNNI
			forms = append([]assembly{vnni}, forms...)
		}
	}
	if cpu.X86.HasAVX2 && cpu.X86.HasFMA {
		forms = append(forms, assembly{"AVX2", 8, sumAVX2, sumInt16AVX2, loadAVX2, setInt16AVX2, shiftAVX2, multiplyAVX2,
			addInt16AVX2, addFloat32AVX2, peakAVX2, packAVX2, scaleAVX2,
			extendAVX2, rangeInt16AVX2, combineAVX2, packBytesAVX2, scaleBytesAVX2,
			convolveAVX2, convolveComplexAVX2,
			interleaveAVX2, convolveHermitianAVX2,
			interleaveInt16AVX2, convolveInt16AVX2})
	}
	return forms
}

func sumAVX512(src *float32, n int) float64
func loadAVX512(dst, src *float32, n int, weight float32) (sum float64, peak float32)
func sumInt16AVX512(src *int16, n int) int32
func rangeInt16AVX512(src *int16, n int) (least, most int16)
func combineAVX512(dst, a, b *int16, n int, weightA, weightB, offset int16, shift uint16)
func setInt16AVX512(dst *float32, src *int16, n int, weight, offset float32)
func shiftAVX512(dst *float32, n int, by float32)
func multiplyAVX512(dst, weights *float32, n int)
func addInt16AVX512(dst *float32, src *int16, n int, weight float32)
func addFloat32AVX512(dst, src *float32, n int, weight float32)
func peakAVX512(src *float32, n int) float32
func packAVX512(dst *int16, src *float32, n int, scale float32)
func scaleAVX512(dst *int16, n int, by float32)
func packBytesAVX512(low, high *uint8, src *float32, n int, scale float32)
func scaleBytesAVX512(low, high *uint8, n int, by float32)
func extendAVX512(least, most, src *float32, n int)
func convolveAVX512(dst, x, taps *float32, count, n int)
func convolveComplexAVX512(re, im, x *float32, taps *complex64, count, n int)
func interleaveAVX512(dst, src *float32, stride, n int)
func interleaveInt16AVX512(dst, src *int16, stride, n int)
func convolveInt16AVX512(re, im *float32, x, taps *int16, pairs, stride, n int, unit float32)
func convolveHermitianAVX512(re, im, x *float32, taps *complex64, half, stride, n int)
func convolveInt16VNNI(re, im *float32, x, taps *int16, pairs, stride, n int, unit float32)

func sumAVX2(src *float32, n int) float64
func loadAVX2(dst, src *float32, n int, weight float32) (sum float64, peak float32)
func sumInt16AVX2(src *int16, n int) int32
func rangeInt16AVX2(src *int16, n int) (least, most int16)
func combineAVX2(dst, a, b *int16, n int, weightA, weightB, offset int16, shift uint16)
func setInt16AVX2(dst *float32, src *int16, n int, weight, offset float32)
func shiftAVX2(dst *float32, n int, by float32)
func multiplyAVX2(dst, weights *float32, n int)
func addInt16AVX2(dst *float32, src *int16, n int, weight float32)
func addFloat32AVX2(dst, src *float32, n int, weight float32)
func peakAVX2(src *float32, n int) float32
func packAVX2(dst *int16, src *float32, n int, scale float32)
func scaleAVX2(dst *int16, n int, by float32)
func packBytesAVX2(low, high *uint8, src *float32, n int, scale float32)
func scaleBytesAVX2(low, high *uint8, n int, by float32)
func extendAVX2(least, most, src *float32, n int)
func convolveAVX2(dst, x, taps *float32, count, n int)
func convolveComplexAVX2(re, im, x *float32, taps *complex64, count, n int)
func interleaveAVX2(dst, src *float32, stride, n int)
func interleaveInt16AVX2(dst, src *int16, stride, n int)
func convolveInt16AVX2(re, im *float32, x, taps *int16, pairs, stride, n int, unit float32)
func convolveHermitianAVX2(re, im, x *float32, taps *complex64, half, stride, n int)
