// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package portable is the delay-and-sum kernel in plain Go.
//
//	portable.Pack(trace, re, im)
//	portable.Sum(acc, tx, rx, trace, 0, fractionBits)                    // one transmitter and receiver
//	portable.Sum2(acc, tx, rx0, rx1, (*portable.Window)(trace0), window1) // one transmitter, two receivers
//
// Delays are fixed-point numbers of samples. The delay of a pair at a pixel is the sum of the
// delays of transmitter and receiver. Its integer part is the index into the trace. Its fraction
// multiplies the slope, which the trace holds beside each sample.
//
// # For contributors
//
// Delays are int32, so two of them add without rounding and the integer part is a shift. Whole
// delays in records of 2,048 samples leave 19 fraction bits, in records of 8,192 samples 17 bits.
// Delays that count from a base near all pixels of a tile leave [FractionBits] in any record.
//
// A packed sample holds the value and the slope to the next sample in 16 bytes. A lookup then
// reads one place in memory, and does one multiplication each for the real and the imaginary part.
//
// [Sum2] takes 1.07 ns a lookup, and [Sum] takes 1.4 ns. A shift by a constant to 12 bits, into an
// array of 2^12 samples, needs no check of the index and leaves the registers that held lengths.
// The arrays are read before the loop, because otherwise each iteration checks their pointers for
// nil.
//
// On one core of an AMD EPYC (family 25, model 17) a lookup takes 3.7 cycles in the first-level
// cache. In case A of BENCHMARKS.md it takes 3.9 to 4.1 cycles, because traces come from the
// third-level cache. The first loop there takes 7.5 cycles. Two ports bound a lookup to 3.4 cycles:
// each of four additions takes them for half a cycle, and the conversion of an integer register to
// float32 for 1.4 cycles. The front end takes 3.7 cycles: 22 operations, 6 in a cycle. A copy in
// scalar assembly took 3.6 cycles with its instructions in the best of 120 orders. A conversion
// from memory would take half a cycle, but the compiler has none.
//
// Tried without gain, with the time of a lookup of case A relative to the present loop:
//
//   - the fraction as the bits of a float32 from 1 to 2: 1.2, and 1.05 without a spilled register
//   - three receivers: 1.1; four, in arrays at constant distances: 1.0 to 1.04
//   - the values of both parts in one integer, their slopes in float32: 1.07, four receivers 1.03
//   - both parts in integers of 64 bits, in samples of 32 bytes: 1.4 to 1.7
//   - delays in float32 and lines through samples: 1.3, and the image is off by 7e-5
//   - values and slopes in slices of their own: 1.2
//   - parts of tiles of 256 to 2,048 pixels: 1.0 to 1.08
//   - each window read once before the loop, as a prefetch: 1.01
//   - tiles of 64 × 256 pixels: 0.96 to 0.98, but an image of 256 × 256 has only 4 for the cores
package portable

// Sample is a complex sample and its slope: the difference from the next sample for one step of a
// delay with [FractionBits].
type Sample struct{ Re, Im, SlopeRe, SlopeIm float32 }

// FractionBits is the largest number of fraction bits of a delay.
const FractionBits = 20

// Window is the part of a trace that delays with [FractionBits] can reach.
type Window [1 << (32 - FractionBits)]Sample

// Pack writes the samples re + i·im, except the last, with their slopes to dst, which has
// len(re)-1 elements.
func Pack(dst []Sample, re, im []float32) {
	if len(re) == 0 {
		return
	}
	const scale = 1. / (1 << FractionBits)
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

// Sum adds the interpolated sample of trace at the delay tx[p] + rx[p], counted from sample base,
// to each pixel p of acc. Delays have fractionBits, at most [FractionBits]. Delays before the
// first sample, and delays from the last sample on, add nothing. tx and rx have the length of acc.
func Sum(acc []complex64, tx, rx []int32, trace []Sample, base int, fractionBits uint) {
	tx, rx = tx[:len(acc)], rx[:len(acc)]
	mask := int32(1)<<fractionBits - 1
	shift, more := fractionBits&31, (FractionBits-fractionBits)&31
	for p, s := range acc {
		delay := tx[p] + rx[p]
		if k := base + int(delay>>shift); uint(k) < uint(len(trace)) {
			f, t := float32(delay&mask<<more), &trace[k]
			acc[p] = complex(real(s)+(t.Re+f*t.SlopeRe), imag(s)+(t.Im+f*t.SlopeIm))
		}
	}
}

// Sum2 has the same result as two calls of Sum for two receivers of one transmitter, in their
// order, with [FractionBits] and delays that lie within the windows. It rounds like these calls,
// but reads and writes each pixel only once.
func Sum2(acc []complex64, tx, rx0, rx1 []int32, w0, w1 *Window) {
	tx, rx0, rx1 = tx[:len(acc)], rx0[:len(acc)], rx1[:len(acc)]
	_, _ = w0[0], w1[0] // no check for nil in the loop
	const mask = 1<<FractionBits - 1
	for p, s := range acc {
		delay := uint32(tx[p] + rx0[p])
		k, f := delay>>FractionBits, float32(int32(delay&mask))
		re := real(s) + (w0[k].Re + f*w0[k].SlopeRe)
		im := imag(s) + (w0[k].Im + f*w0[k].SlopeIm)
		delay = uint32(tx[p] + rx1[p])
		k, f = delay>>FractionBits, float32(int32(delay&mask))
		acc[p] = complex(re+(w1[k].Re+f*w1[k].SlopeRe), im+(w1[k].Im+f*w1[k].SlopeIm))
	}
}
