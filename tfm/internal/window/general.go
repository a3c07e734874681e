// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

// sumGeneral adds lookups to the accumulators of block b, pixel by pixel, in plain Go:
// for blocks of every kind, and exact at the ends of the record. Delays before the
// first sample and from the last on add nothing.
func (a *Adder[S]) sumGeneral(acc []float32, b int, c *Chunk) {
	a.Counts.General += uint64(len(c.Entries))
	switch t := any(&a.Traces).(type) {
	case *Traces[int16]:
		sumGeneral16(a.Layout, acc, b, c, t)
	case *Traces[float32]:
		sumGeneral32(a.Layout, acc, b, c, t)
	}
}

// offsetFormat returns the mask that takes an offset of block b from its 32 bits,
// and how many bits of it are the fraction.
func (l *Layout) offsetFormat(b int) (mask uint32, fraction uint) {
	switch {
	case l.Blocks[b].Kind == General:
		return 1<<32 - 1, l.General
	case l.Pairs:
		return 1<<16 - 1, l.Fraction
	}
	return 1<<32 - 1, l.Fraction
}

// delaysOf returns the delays of element e of t in block b.
func (l *Layout) delaysOf(t *Table, b, e int) (offsets []uint32, bases []int32) {
	offsets = t.Offsets[(b*t.Elements+e)*Pixels:][:Pixels]
	if l.Blocks[b].Kind == General {
		return offsets, noBases[:]
	}
	return offsets, t.Bases[(b*t.Elements+e)*2:][:2]
}

var noBases [2]int32

// sumGeneral16 sums in integers, as the kernel does, bit for bit.
func sumGeneral16(l *Layout, acc []float32, b int, c *Chunk, traces *Traces[int16]) {
	var sum [2 * Pixels]int32
	mask, fraction := l.offsetFormat(b)
	// Whole delays of long records have fewer bits than the weights.
	one, more := int32(1)<<fraction-1, l.Fraction-fraction
	full := int32(1) << l.Fraction
	for tx, e := range c.lookups {
		txOffsets, txBases := l.delaysOf(l.Tx, b, tx)
		rxOffsets, rxBases := l.delaysOf(l.Rx, b, e.rx())
		re, im := traces.planes(e, l.samples)
		for i := range Pixels {
			delay := int32(txOffsets[i]&mask + rxOffsets[i]&mask)
			k := int(txBases[i/half]+rxBases[i/half]) + int(delay>>fraction)
			if uint(k) >= uint(len(re)-1) {
				continue
			}
			f := delay & one << more
			sum[i] += int32(re[k])*(full-f) + int32(re[k+1])*f
			sum[Pixels+i] += int32(im[k])*(full-f) + int32(im[k+1])*f
		}
	}
	for i, v := range sum {
		acc[i] += float32(v)
	}
}

// sumGeneral32 sums in single precision.
func sumGeneral32(l *Layout, acc []float32, b int, c *Chunk, traces *Traces[float32]) {
	mask, fraction := l.offsetFormat(b)
	scale := 1 / float32(int64(1)<<fraction)
	for tx, e := range c.lookups {
		txOffsets, txBases := l.delaysOf(l.Tx, b, tx)
		rxOffsets, rxBases := l.delaysOf(l.Rx, b, e.rx())
		re, im := traces.planes(e, l.samples)
		for i := range Pixels {
			delay := int32(txOffsets[i]&mask + rxOffsets[i]&mask)
			k := int(txBases[i/half]+rxBases[i/half]) + int(delay>>fraction)
			if uint(k) >= uint(len(re)-1) {
				continue
			}
			f := float32(delay&(1<<fraction-1)) * scale
			acc[i] += (1-f)*re[k] + f*re[k+1]
			acc[Pixels+i] += (1-f)*im[k] + f*im[k+1]
		}
	}
}
