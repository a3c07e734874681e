// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

// sumGeneral adds lookups to the accumulators of block b, pixel by pixel, in plain Go. It takes
// blocks of every kind, and is exact at the ends of the record. Delays before the first sample,
// and delays from the last sample on, add nothing.
func (a *Adder[S]) sumGeneral(acc []float32, layer, b int, c *Chunk) {
	for i := range 1 + a.Traces.More {
		a.Counts.General += uint64(len(c.Entries))
		part := acc[i*layer:][:2*Pixels]
		switch t := any(&a.Traces).(type) {
		case *Traces[int16]:
			sumGeneral16(a.Layout, part, b, c, t, i)
		case *Traces[float32]:
			if t.Narrow && i > 0 {
				narrow := NarrowLayer(*t, i)
				sumNarrow(a.Layout, part, b, c, &narrow)
			} else {
				sumGeneral32(a.Layout, part, b, c, t, i)
			}
		}
	}
}

// fraction returns the number of fraction bits in the delays of block b.
func (l *Layout) fraction(b int) uint {
	if l.Blocks[b].Kind == General {
		return l.General
	}
	return l.Fraction
}

// readDelays sets dst to the delays of the element of a slot to the pixels of block b, along the
// transmit path 0 or the receive path 1.
func (l *Layout) readDelays(dst *[Pixels]int64, path, b, slot int) {
	if l.Blocks[b].Kind == General {
		e := [...]*Tables{l.Tx, l.Rx}[path].element(slot)
		for i, v := range l.whole[path][l.Blocks[b].whole][e*Pixels:][:Pixels] {
			dst[i] = int64(v)
		}
		return
	}
	t := l.tables(b)[path]
	at, parts := t.at(b, slot), l.parts
	bases, size := t.Bases[at*parts:][:parts], Pixels/parts
	for i := range dst {
		dst[i] = int64(bases[i/size]) << l.Fraction
		if l.Narrow {
			dst[i] += int64(t.Narrow[at*Pixels+l.place(i)])
		} else {
			dst[i] += int64(t.Wide[at*Pixels+i])
		}
	}
}

// sumGeneral16 sums in integers. Its sums have the same bits as the sums of the kernels.
func sumGeneral16(l *Layout, acc []float32, b int, c *Chunk, traces *Traces[int16], layer int) {
	var sum [2 * Pixels]int32
	var txDelays, rxDelays [Pixels]int64
	// In long records, whole delays have fewer fraction bits than the weights have.
	fraction := l.fraction(b)
	one, more := int64(1)<<fraction-1, l.Fraction-fraction
	full, record := int32(1)<<l.Fraction, Range{0, l.samples}
	for tx, e := range c.lookups {
		l.readDelays(&txDelays, 0, b, tx)
		l.readDelays(&rxDelays, 1, b, int(e.Rx))
		from := trace[int16](e) + 2*layer*traces.Plane
		re := l.NewInts(traces.Data[from:], traces.Plane, record)
		im := l.NewInts(traces.Data[from+traces.Plane:], traces.Plane, record)
		for i := range Pixels {
			delay := txDelays[i] + rxDelays[i]
			k := int(delay >> fraction)
			if uint(k) >= uint(l.samples-1) {
				continue
			}
			f := int32(delay & one << more)
			sum[i] += int32(re.At(k))*(full-f) + int32(re.At(k+1))*f
			sum[Pixels+i] += int32(im.At(k))*(full-f) + int32(im.At(k+1))*f
		}
	}
	for i, v := range sum {
		acc[i] += float32(v)
	}
}

// sumGeneral32 sums in single precision.
func sumGeneral32(l *Layout, acc []float32, b int, c *Chunk, traces *Traces[float32], layer int) {
	var txDelays, rxDelays [Pixels]int64
	fraction := l.fraction(b)
	scale := 1 / float32(int64(1)<<fraction)
	for tx, e := range c.lookups {
		l.readDelays(&txDelays, 0, b, tx)
		l.readDelays(&rxDelays, 1, b, int(e.Rx))
		re, im, step := l.floats(traces, e, layer)
		for i := range Pixels {
			delay := txDelays[i] + rxDelays[i]
			k := int(delay >> fraction)
			if uint(k) >= uint(l.samples-1) {
				continue
			}
			f := float32(delay&(1<<fraction-1)) * scale
			at, next := step*k, step*k+step
			acc[i] += (1-f)*re[at] + f*re[next]
			acc[Pixels+i] += (1-f)*im[at] + f*im[next]
		}
	}
}

// floats returns the trace of e in a layer. The parts of sample k are re[step*k] and im[step*k].
func (l *Layout) floats(t *Traces[float32], e Entry, layer int) (re, im []float32, step int) {
	if !l.Interleaved {
		re, im = t.planes(e, layer, l.samples)
		return re, im, 1
	}
	both := t.Data[trace[float32](e)+2*layer*t.Plane:][:2*l.samples]
	return both, both[1:], 2
}

// sumNarrow sums a layer of 16 bits in single precision. It rounds delays to the fraction bits of
// [Format16]. Its sums have the same bits as the sums of the kernels.
func sumNarrow(l *Layout, acc []float32, b int, c *Chunk, traces *Traces[int16]) {
	var sum [2 * Pixels]int32
	var txDelays, rxDelays [Pixels]int64
	fraction, full := l.fraction(b), int64(1)<<Format16.Fraction
	for tx, e := range c.lookups {
		l.readDelays(&txDelays, 0, b, tx)
		l.readDelays(&rxDelays, 1, b, int(e.Rx))
		re, im := traces.planes(e, 0, l.samples)
		for i := range Pixels {
			delay := txDelays[i] + rxDelays[i]
			k := int(delay >> fraction)
			if uint(k) >= uint(len(re)-1) {
				continue
			}
			f := roundShift((delay-int64(k)<<fraction)<<Format16.Fraction, fraction)
			sum[i] += int32(int64(re[k])*(full-f) + int64(re[k+1])*f)
			sum[Pixels+i] += int32(int64(im[k])*(full-f) + int64(im[k+1])*f)
		}
	}
	for i, v := range sum {
		acc[i] += float32(v)
	}
}
