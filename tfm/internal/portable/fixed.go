// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package portable

// Fixed is a complex sample of two parts of 16 bits in one integer, re + im·2³², so
// that one multiplication interpolates both. Products with weights of 11 bits, and
// sums of [MaxFixed] of them, keep to the halves.
type Fixed int64

// WeightBits is the number of bits of the weights of Fixed samples, and of the fraction of
// delays: a constant, since shifts by a variable are slow.
const WeightBits = 11

// MaxFixed is the largest number of full-scale samples in a sum.
//
//	32 · 32767 · 2048 = 2,147,418,112 < 2³¹
const MaxFixed = 32

// NewFixed returns the sample of both parts.
func NewFixed(re, im int16) Fixed { return Fixed(re) + Fixed(im)<<32 }

// Parts returns both parts of a sample or a sum.
func (f Fixed) Parts() (re, im int32) {
	re = int32(f)
	return re, int32((f - Fixed(re)) >> 32)
}

// Line is a sample and the way to the next one, as the line through both over delays:
// 2048 times the value at delay d, counted in 2048ths of a sample from 0, is
// Base + Slope·d. Numbers that do not fit wrap around, and back.
type Line struct{ Base, Slope Fixed }

// NewLine returns the line from sample k of value a to the next one.
func NewLine(k int, a, next Fixed) Line {
	slope := next - a
	return Line{Base: a<<WeightBits - slope*Fixed(k<<WeightBits), Slope: slope}
}

// SumFixed adds to each pixel of acc the interpolated sample of trace, times 2048, at
// the delay tx[p] + rx[p]. Delays before the first sample and from the last on add
// nothing; trace has a line less than samples. tx and rx have the length of acc.
func SumFixed(acc []Fixed, tx, rx []int32, trace []Line) {
	tx, rx = tx[:len(acc)], rx[:len(acc)]
	for p := range acc {
		delay := uint32(tx[p] + rx[p]) // beyond any trace where the sum is negative
		if k := uint(delay >> WeightBits); k < uint(len(trace)) {
			acc[p] += trace[k].Base + trace[k].Slope*Fixed(delay)
		}
	}
}

// SumFixed2 is SumFixed for two receivers of one transmitter: it reads and writes each
// pixel once for both. Four are no faster.
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
