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

const one = 1<<WeightBits - 1

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

// SumFixed adds to each pixel of acc the interpolated sample of trace, times 2048, at
// the delay tx[p] + rx[p]. Delays before the first sample and from the last on add
// nothing. tx and rx have the length of acc.
func SumFixed(acc []Fixed, tx, rx []int32, trace []Fixed) {
	tx, rx = tx[:len(acc)], rx[:len(acc)]
	for p := range acc {
		delay := tx[p] + rx[p]
		if k := int(delay >> WeightBits); uint(k) < uint(len(trace)-1) {
			a := trace[k]
			f := Fixed(delay & one)
			acc[p] += a<<WeightBits + (trace[k+1]-a)*f
		}
	}
}

// SumFixed4 is SumFixed for four receivers of one transmitter: it reads and writes
// each pixel once for the four.
func SumFixed4(acc []Fixed, tx []int32, rx [4][]int32, traces [4][]Fixed) {
	tx = tx[:len(acc)]
	rx0, rx1, rx2, rx3 := rx[0][:len(acc)], rx[1][:len(acc)], rx[2][:len(acc)], rx[3][:len(acc)]
	trace0, trace1, trace2, trace3 := traces[0], traces[1], traces[2], traces[3]
	for p, sum := range acc {
		first := tx[p]
		delay := first + rx0[p]
		if k := int(delay >> WeightBits); uint(k) < uint(len(trace0)-1) {
			a := trace0[k]
			sum += a<<WeightBits + (trace0[k+1]-a)*Fixed(delay&one)
		}
		delay = first + rx1[p]
		if k := int(delay >> WeightBits); uint(k) < uint(len(trace1)-1) {
			a := trace1[k]
			sum += a<<WeightBits + (trace1[k+1]-a)*Fixed(delay&one)
		}
		delay = first + rx2[p]
		if k := int(delay >> WeightBits); uint(k) < uint(len(trace2)-1) {
			a := trace2[k]
			sum += a<<WeightBits + (trace2[k+1]-a)*Fixed(delay&one)
		}
		delay = first + rx3[p]
		if k := int(delay >> WeightBits); uint(k) < uint(len(trace3)-1) {
			a := trace3[k]
			sum += a<<WeightBits + (trace3[k+1]-a)*Fixed(delay&one)
		}
		acc[p] = sum
	}
}
