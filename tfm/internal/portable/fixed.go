// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package portable

// Fixed is a complex sample with parts of 16 bits in one integer, re + im·2³². One multiplication
// interpolates both parts. Products with weights of 11 bits, and sums of up to [MaxFixed] products,
// do not leave their half of the integer.
type Fixed int64

// WeightBits is the number of bits of the weights of Fixed samples, and of the fraction of delays.
// It is a constant, because a shift by a variable is slow.
const WeightBits = 11

// MaxFixed is the largest number of full-scale samples in a sum:
//
//	32 · 32767 · 2048 = 2,147,418,112 < 2³¹
const MaxFixed = 32

// NewFixed returns the sample re + i·im.
func NewFixed(re, im int16) Fixed { return Fixed(re) + Fixed(im)<<32 }

// Parts returns the real and the imaginary part of a sample or a sum.
func (f Fixed) Parts() (re, im int32) {
	re = int32(f)
	return re, int32((f - Fixed(re)) >> 32)
}

// Line is the line through a sample and the next one. Let the delay d be in units of 1/2048 sample.
// Then 2048 times the value at d is Base + Slope·d. Base and Slope·d may overflow. Their sum does
// not, so it is right.
type Line struct{ Base, Slope Fixed }

// NewLine returns the line from sample k, which has the value a, to the next one.
func NewLine(k int, a, next Fixed) Line {
	slope := next - a
	return Line{Base: a<<WeightBits - slope*Fixed(k<<WeightBits), Slope: slope}
}

// SumFixed adds 2048 times the interpolated sample of trace at the delay tx[p] + rx[p] to each
// pixel p of acc. Delays before the first sample, and delays from the last sample on, add nothing.
// The number of lines of trace is the number of samples of the record minus one. tx and rx have
// the length of acc.
func SumFixed(acc []Fixed, tx, rx []int32, trace []Line) {
	tx, rx = tx[:len(acc)], rx[:len(acc)]
	for p := range acc {
		delay := uint32(tx[p] + rx[p]) // beyond any trace where the sum is negative
		if k := uint(delay >> WeightBits); k < uint(len(trace)) {
			acc[p] += trace[k].Base + trace[k].Slope*Fixed(delay)
		}
	}
}

// SumFixed2 has the same result as two calls of SumFixed for two receivers of one transmitter. It
// reads and writes each pixel only once. Four receivers at a time are not faster. Windows as in
// [Sum2] need no check, but take 8 % more.
func SumFixed2(acc []Fixed, tx, rx0, rx1 []int32, trace0, trace1 []Line) {
	tx, rx0, rx1 = tx[:len(acc)], rx0[:len(acc)], rx1[:len(acc)]
	for p, sum := range acc {
		delay := uint32(tx[p] + rx0[p])
		if k := uint(delay >> WeightBits); k < uint(len(trace0)) {
			sum += trace0[k].Base + trace0[k].Slope*Fixed(delay)
		}
		delay = uint32(tx[p] + rx1[p])
		if k := uint(delay >> WeightBits); k < uint(len(trace1)) {
			sum += trace1[k].Base + trace1[k].Slope*Fixed(delay)
		}
		acc[p] = sum
	}
}
