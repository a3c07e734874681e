// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package vector holds operations on whole slices of samples: sums, shifts, products,
// convolutions, and conversions to 16 bits.
//
//	mean := vector.Sum(trace) / float64(len(trace))
//	vector.Shift(trace, float32(-mean))
//	vector.Convolve(filtered, padded, taps) // padded has len(taps)-1 samples more
//
// The operations run in AVX-512, AVX2 or NEON instructions, depending on the processor. Elsewhere,
// and with the build tag purego, they run in plain Go. All forms agree to rounding. [Peak],
// [Extend], [Pack], [Scale] and their forms for bytes give the same bits in each form.
//
// # For contributors
//
// A function in assembly works on whole vectors. The functions in Go give it as many vectors
// as the slices hold, and finish the rest in plain Go. In a convolution and in a maximum the last
// block overlaps the block before instead.
//
// With 2,048 samples a tap of a complex convolution takes 0.07 µs with AVX-512 and with AVX2 on
// one core of a virtual machine (AMD EPYC, family 25, model 17, shared). A tap of [Hermitian]
// takes 0.04 µs with AVX-512 and 0.06 µs with AVX2. A tap of a real convolution takes 0.04 µs.
//
// On amd64 vector_amd64.h and hermitian_amd64.h hold the functions for both instruction sets. The
// files avx2_amd64.s and avx512_amd64.s define the width of a vector and the names of the
// registers and functions, and include both. So no file is generated. go vet does not read .h
// files, so only the tests check the offsets of arguments in them.
//
// A new function needs a field in assembly and a row in operations of vector_test.go. TestForms
// then runs each form of it between unreadable pages. TestDispatch checks that the best form of
// the processor does the work.
package vector

import (
	"math"

	"gonum.org/v1/gonum/blas/blas32"
)

// assembly holds the functions of one instruction set. Each count n of elements is positive and a
// multiple of the block that the comment names. The zero value stands for plain Go.
type assembly struct {
	name  string
	lanes int // float32 numbers in a vector, a power of 2

	// Blocks of sumBlock vectors.
	sum      func(src *float32, n int) float64
	sumInt16 func(src *int16, n int) int32 // at most chunkInt16 samples

	// As sum and peak for weight·src, which load also writes to dst. NEON has no form of it.
	load func(dst, src *float32, n int, weight float32) (sum float64, peak float32)

	// Blocks of one vector.
	setInt16   func(dst *float32, src *int16, n int, weight, offset float32)
	shift      func(dst *float32, n int, by float32)
	multiply   func(dst, weights *float32, n int)
	addInt16   func(dst *float32, src *int16, n int, weight float32)
	addFloat32 func(dst, src *float32, n int, weight float32)
	peak       func(src *float32, n int) float32 // n is at least one block, not necessarily a multiple
	pack       func(dst *int16, src *float32, n int, scale float32)
	scale      func(dst *int16, n int, by float32)
	extend     func(least, most, src *float32, n int) // NEON has no form of it

	// Blocks of intsBlock vectors. No filter on arm64 is in integers, so NEON has no form of these.
	rangeInt16 func(src *int16, n int) (least, most int16)
	combine    func(dst, a, b *int16, n int, weightA, weightB, offset int16, shift uint16)

	// Blocks of bytesBlock vectors. No kernel on arm64 reads planes of bytes, so NEON has no form
	// of these.
	packBytes  func(low, high *uint8, src *float32, n int, scale float32)
	scaleBytes func(low, high *uint8, n int, by float32)

	// Blocks of convolveBlock and complexBlock vectors. count is the number of taps.
	convolve        func(dst, x, taps *float32, count, n int)
	convolveComplex func(re, im, x *float32, taps *complex64, count, n int)

	// Parts of [Hermitian.Convolve], nil where convolveComplex is as fast. In interleaved samples
	// the lane l of vector t is sample l·stride + t. n counts vectors in multiples of timesBlock.
	// The taps are h[0] to h[half]. x is the vector of the first output; half more vectors lie
	// before the first and behind the last.
	interleave        func(dst, src *float32, stride, n int)
	convolveHermitian func(re, im, x *float32, taps *complex64, half, stride, n int)

	// Parts of [HermitianInt16.Convolve]. NEON has no form of them. Of the samples of each time
	// and lane there are two numbers of 32 bits: first, of all lanes, the sample and the next one,
	// then both in reverse order. In interleaveInt16 n is a multiple of pairsBlock.
	interleaveInt16 func(dst, src *int16, stride, n int)
	convolveInt16   func(re, im *float32, x, taps *int16, pairs, stride, n int, unit float32)
}

// The vectors in a block. Several registers hold the sums in turn, because an addition takes
// several cycles.
const (
	sumBlock      = 2
	intsBlock     = 2
	bytesBlock    = 2
	convolveBlock = 8
	complexBlock  = 4
	timesBlock    = 4
	pairsBlock    = 8
)

// chunkInt16 is the number of samples of 16 bits whose sum fits into an int32 for certain.
const chunkInt16 = 1 << 15

// best is the fastest form on this processor.
var best = append(available(), assembly{})[0]

// Form returns the name of the instructions that the operations run in on this processor:
// "AVX512", "AVX2" or "NEON", or "plain" for plain Go.
func Form() string {
	if best.name == "" {
		return "plain"
	}
	return best.name
}

// whole returns the number of elements among n that fill whole blocks of the given number of
// vectors.
func whole(n, vectors int) int { return n &^ (vectors*best.lanes - 1) }

// Sum returns the sum of src in float64. The sum is finite exactly if all samples are finite.
func Sum(src []float32) float64 {
	total := 0.0
	if n := whole(len(src), sumBlock); n > 0 {
		total = best.sum(&src[0], n)
		src = src[n:]
	}
	for len(src) > 0 {
		n := min(len(src), len(ones))
		total += blas32.DDot(row(src[:n]), row(ones[:n]))
		src = src[n:]
	}
	return total
}

// ones turns a scalar product into a sum, because gonum has a fast scalar product but no fast sum.
var ones = func() (s [256]float32) {
	for i := range s {
		s[i] = 1
	}
	return s
}()

func row(s []float32) blas32.Vector { return blas32.Vector{N: len(s), Inc: 1, Data: s} }

// SumInt16 returns the sum of src.
func SumInt16(src []int16) (total int64) {
	for n := whole(min(len(src), chunkInt16), sumBlock); n > 0; n = whole(min(len(src), chunkInt16), sumBlock) {
		total += int64(best.sumInt16(&src[0], n))
		src = src[n:]
	}
	for _, v := range src {
		total += int64(v)
	}
	return total
}

// RangeInt16 returns the least and the largest element of src, 0 if src is empty.
func RangeInt16(src []int16) (least, most int16) {
	if len(src) == 0 {
		return 0, 0
	}
	least, most = src[0], src[0]
	if n := whole(len(src), intsBlock); n > 0 && best.rangeInt16 != nil {
		least, most = best.rangeInt16(&src[0], n)
		src = src[n:]
	}
	for _, v := range src {
		least, most = min(least, v), max(most, v)
	}
	return least, most
}

// Combine writes weightA·a + weightB·b + offset to dst. Sums wrap around in 16 bits. If halve is
// true, dst is half the sum, rounded down. All slices have the same length.
func Combine(dst, a, b []int16, weightA, weightB, offset int16, halve bool) {
	a, b = a[:len(dst)], b[:len(dst)]
	shift := uint16(0)
	if halve {
		shift = 1
	}
	if n := whole(len(dst), intsBlock); n > 0 && best.combine != nil {
		best.combine(&dst[0], &a[0], &b[0], n, weightA, weightB, offset, shift)
		dst, a, b = dst[n:], a[n:], b[n:]
	}
	for i := range dst {
		dst[i] = (weightA*a[i] + weightB*b[i] + offset) >> shift
	}
}

// SetInt16 writes weight·src + offset to dst. It rounds the product, then the sum. dst has the
// length of src.
func SetInt16(dst []float32, src []int16, weight, offset float32) {
	dst = dst[:len(src)]
	if n := whole(len(src), 1); n > 0 {
		best.setInt16(&dst[0], &src[0], n, weight, offset)
		dst, src = dst[n:], src[n:]
	}
	for i, v := range src {
		dst[i] = float32(weight*float32(v)) + offset
	}
}

// Shift adds by to every element of dst.
func Shift(dst []float32, by float32) {
	if n := whole(len(dst), 1); n > 0 {
		best.shift(&dst[0], n, by)
		dst = dst[n:]
	}
	for i := range dst {
		dst[i] += by
	}
}

// Multiply multiplies each element of dst by the weight at the same index. dst has the length of
// weights.
func Multiply(dst, weights []float32) {
	dst = dst[:len(weights)]
	if n := whole(len(dst), 1); n > 0 {
		best.multiply(&dst[0], &weights[0], n)
		dst, weights = dst[n:], weights[n:]
	}
	for i, w := range weights {
		dst[i] *= w
	}
}

// AddInt16 adds weight·src to dst. dst has the length of src.
func AddInt16(dst []float32, src []int16, weight float32) {
	dst = dst[:len(src)]
	if n := whole(len(src), 1); n > 0 {
		best.addInt16(&dst[0], &src[0], n, weight)
		dst, src = dst[n:], src[n:]
	}
	for i, v := range src {
		dst[i] += weight * float32(v)
	}
}

// AddFloat32 adds weight·src to dst. dst has the length of src.
func AddFloat32(dst, src []float32, weight float32) {
	dst = dst[:len(src)]
	if n := whole(len(src), 1); n > 0 {
		best.addFloat32(&dst[0], &src[0], n, weight)
		dst, src = dst[n:], src[n:]
	}
	for i, v := range src {
		dst[i] += weight * v
	}
}

// Peak returns the largest magnitude in src, 0 if src is empty, and NaN if an element is NaN.
func Peak(src []float32) float32 {
	if whole(len(src), 1) > 0 {
		return best.peak(&src[0], len(src))
	}
	// Bits without the sign are in the order of the magnitudes, and NaN is above all numbers.
	peak, sign := uint32(0), uint32(1)<<31
	for _, v := range src {
		peak = max(peak, math.Float32bits(v)&^sign)
	}
	return math.Float32frombits(peak)
}

// Load writes weight·src to dst, which has the length of src, and returns what [Sum] and [Peak]
// return for dst. It does both in one pass. If dst is src, weight is 1.
func Load(dst, src []float32, weight float32) (sum float64, peak float32) {
	dst = dst[:len(src)]
	n := whole(len(src), sumBlock)
	if best.load == nil || n == 0 {
		if len(src) > 0 && &dst[0] != &src[0] {
			clear(dst)
			AddFloat32(dst, src, weight)
		}
		return Sum(dst), Peak(dst)
	}
	sum, peak = best.load(&dst[0], &src[0], n, weight)
	for i, v := range src[n:] {
		v *= weight
		dst[n+i] = v
		sum, peak = sum+float64(v), max(peak, v, -v)
	}
	return sum, peak
}

// Extend lowers each element of least to the element of src where that is less, and raises each
// element of most where it is greater. NaN in src changes nothing. All have the same length.
func Extend(least, most, src []float32) {
	least, most = least[:len(src)], most[:len(src)]
	if n := whole(len(src), 1); n > 0 && best.extend != nil {
		best.extend(&least[0], &most[0], &src[0], n)
		least, most, src = least[n:], most[n:], src[n:]
	}
	for i, v := range src {
		if v < least[i] {
			least[i] = v
		}
		if v > most[i] {
			most[i] = v
		}
	}
}

// Pack writes scale·src to dst, rounded to integers, halves to the even integer. The products must
// fit into 16 bits. dst has the length of src.
func Pack(dst []int16, src []float32, scale float32) {
	dst = dst[:len(src)]
	if n := whole(len(src), 1); n > 0 {
		best.pack(&dst[0], &src[0], n, scale)
		dst, src = dst[n:], src[n:]
	}
	for i, v := range src {
		dst[i] = int16(math.RoundToEven(float64(v * scale)))
	}
}

// PackBytes does what [Pack] does, and writes the low and the high bytes of the integers to low
// and high, which have the length of src.
func PackBytes(low, high []uint8, src []float32, scale float32) {
	low, high = low[:len(src)], high[:len(src)]
	if n := whole(len(src), bytesBlock); n > 0 && best.packBytes != nil {
		best.packBytes(&low[0], &high[0], &src[0], n, scale)
		low, high, src = low[n:], high[n:], src[n:]
	}
	for i, v := range src {
		k := int16(math.RoundToEven(float64(v * scale)))
		low[i], high[i] = uint8(k), uint8(k>>8)
	}
}

// Scale multiplies dst by a factor from 0 to 1 and rounds to integers, halves to the even integer.
func Scale(dst []int16, by float32) {
	if n := whole(len(dst), 1); n > 0 {
		best.scale(&dst[0], n, by)
		dst = dst[n:]
	}
	for i, v := range dst {
		dst[i] = int16(math.RoundToEven(float64(float32(v) * by)))
	}
}

// ScaleBytes does what [Scale] does to integers whose low and high bytes are in low and high,
// which have the same length.
func ScaleBytes(low, high []uint8, by float32) {
	high = high[:len(low)]
	if n := whole(len(low), bytesBlock); n > 0 && best.scaleBytes != nil {
		best.scaleBytes(&low[0], &high[0], n, by)
		low, high = low[n:], high[n:]
	}
	for i, v := range low {
		k := int16(math.RoundToEven(float64(float32(int16(high[i])<<8|int16(v)) * by)))
		low[i], high[i] = uint8(k), uint8(k>>8)
	}
}
