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

// SumFixed2 is SumFixed for two receivers of one transmitter: it reads and writes each
// pixel once for both. For four there are not registers enough.
func SumFixed2(acc []Fixed, tx, rx0, rx1 []int32, trace0, trace1 []Fixed) {
	tx, rx0, rx1 = tx[:len(acc)], rx0[:len(acc)], rx1[:len(acc)]
	if len(trace0) != len(trace1) || len(trace0) == 0 {
		return
	}
	last := len(trace0) - 1
	next0, next1 := trace0[1:][:last], trace1[1:][:last]
	trace0, trace1 = trace0[:last], trace1[:last]
	for p, sum := range acc {
		delay := tx[p] + rx0[p]
		if k := int(delay >> WeightBits); uint(k) < uint(len(trace0)) {
			a := trace0[k]
			sum += a<<WeightBits + (next0[k]-a)*Fixed(delay&one)
		}
		delay = tx[p] + rx1[p]
		if k := int(delay >> WeightBits); uint(k) < uint(len(trace1)) {
			a := trace1[k]
			sum += a<<WeightBits + (next1[k]-a)*Fixed(delay&one)
		}
		acc[p] = sum
	}
}
