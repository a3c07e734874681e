// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package portable is the delay-and-sum kernel in plain Go.
//
// Delays are fixed-point numbers of samples with a number of fraction bits that
// the plan chooses. A delay from an element to a pixel is the sum of two of
// them; its integer part is the index into a trace, its fraction weighs the slope
// that the trace holds beside each sample, so that one lookup reads one
// 16-byte value.
package portable

// Sample is a complex sample and the way to the next one, divided by the
// number of steps in between that a delay can tell apart.
type Sample struct{ Re, Im, SlopeRe, SlopeIm float32 }

// Pack writes the samples re + i·im but the last, each with its slope, for delays
// of the given number of fraction bits, to dst, of len(re)-1 elements.
func Pack(dst []Sample, re, im []float32, fractionBits uint) {
	if len(re) == 0 {
		return
	}
	scale := 1 / float32(int64(1)<<fractionBits)
	dst, im = dst[:len(re)-1], im[:len(re)]
	for k := range dst {
		dst[k] = Sample{
			Re:      re[k],
			Im:      im[k],
			SlopeRe: (re[k+1] - re[k]) * scale,
			SlopeIm: (im[k+1] - im[k]) * scale,
		}
	}
}

// Sum adds to each pixel of acc the interpolated sample of trace at the delay
// tx[p] + rx[p]. Delays before the first sample and from the last on
// add nothing. tx and rx have the length of acc.
func Sum(acc []complex64, tx, rx []int32, trace []Sample, fractionBits uint) {
	tx, rx = tx[:len(acc)], rx[:len(acc)]
	mask := int32(1)<<fractionBits - 1
	shift := fractionBits & 31
	for p, s := range acc {
		re, im := real(s), imag(s)
		delay := tx[p] + rx[p]
		if k := int(delay >> shift); uint(k) < uint(len(trace)) {
			f, t := float32(delay&mask), &trace[k]
			re += t.Re + f*t.SlopeRe
			im += t.Im + f*t.SlopeIm
		}
		acc[p] = complex(re, im)
	}
}

// Sum4 is Sum for four receivers of one transmitter, in order: it reads and
// writes each pixel once for the four, and rounds as four calls of Sum do.
func Sum4(acc []complex64, tx []int32, rx [4][]int32, traces [4][]Sample, fractionBits uint) {
	tx = tx[:len(acc)]
	rx0, rx1, rx2, rx3 := rx[0][:len(acc)], rx[1][:len(acc)], rx[2][:len(acc)], rx[3][:len(acc)]
	trace0, trace1, trace2, trace3 := traces[0], traces[1], traces[2], traces[3]
	mask := int32(1)<<fractionBits - 1
	shift := fractionBits & 31
	for p, s := range acc {
		re, im := real(s), imag(s)
		first := tx[p]
		delay := first + rx0[p]
		if k := int(delay >> shift); uint(k) < uint(len(trace0)) {
			f, t := float32(delay&mask), &trace0[k]
			re += t.Re + f*t.SlopeRe
			im += t.Im + f*t.SlopeIm
		}
		delay = first + rx1[p]
		if k := int(delay >> shift); uint(k) < uint(len(trace1)) {
			f, t := float32(delay&mask), &trace1[k]
			re += t.Re + f*t.SlopeRe
			im += t.Im + f*t.SlopeIm
		}
		delay = first + rx2[p]
		if k := int(delay >> shift); uint(k) < uint(len(trace2)) {
			f, t := float32(delay&mask), &trace2[k]
			re += t.Re + f*t.SlopeRe
			im += t.Im + f*t.SlopeIm
		}
		delay = first + rx3[p]
		if k := int(delay >> shift); uint(k) < uint(len(trace3)) {
			f, t := float32(delay&mask), &trace3[k]
			re += t.Re + f*t.SlopeRe
			im += t.Im + f*t.SlopeIm
		}
		acc[p] = complex(re, im)
	}
}
