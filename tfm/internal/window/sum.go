// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import "unsafe"

// Entry is one lookup of a transmitter, in one word so that a kernel loads it at
// once: the receiver in the lower 32 bits, and in the upper ones where its trace
// begins in the packed traces, in units of [Line] bytes.
type Entry uint64

// Line is the unit of the place of traces in bytes.
const Line = 64

// NewEntry returns the lookup of a receiver in the trace that begins traceBytes, a
// multiple of [Line], into the packed traces.
func NewEntry(rx, traceBytes int) Entry {
	return Entry(traceBytes/Line)<<32 | Entry(rx)
}

func (e Entry) rx() int { return int(uint32(e)) }

// trace returns where the trace of e begins, in samples.
func trace[S Sample](e Entry) int {
	var s S
	return int(e>>32) * (Line / int(unsafe.Sizeof(s)))
}

// Segment says that the next Count entries are of transmitter Tx.
type Segment struct {
	Tx    uint32
	Count uint32 // at least 1
}

// MaxEntries is the largest number of lookups in a [Chunk]: as many as a sum of
// full-scale 16-bit samples, with weights of 11 bits, fits into 32 bits.
//
//	32 · 32767 · 2048 = 2,147,418,112 < 2³¹
const MaxEntries = 32

// Chunk is up to [MaxEntries] lookups, which a kernel sums in one go, those of a
// transmitter together.
type Chunk struct {
	Segments []Segment
	Entries  []Entry
}

// Add adds a lookup to c.
func (c *Chunk) Add(tx int, e Entry) {
	last := len(c.Segments) - 1
	if last < 0 || c.Segments[last].Tx != uint32(tx) {
		c.Segments = append(c.Segments, Segment{Tx: uint32(tx)})
		last++
	}
	c.Segments[last].Count++
	c.Entries = append(c.Entries, e)
}

// clear empties c and keeps its memory.
func (c *Chunk) clear() { c.Segments, c.Entries = c.Segments[:0], c.Entries[:0] }

// lookups yields the lookups of c with their transmitters.
func (c *Chunk) lookups(yield func(tx int, e Entry) bool) {
	entries := c.Entries
	for _, s := range c.Segments {
		for _, e := range entries[:s.Count] {
			if !yield(int(s.Tx), e) {
				return
			}
		}
		entries = entries[s.Count:]
	}
}

// Sample is a packed sample.
type Sample interface{ int16 | float32 }

// Traces are packed traces: the real parts of the samples of a trace, and Plane
// samples on the imaginary parts. Behind the last trace lie as many samples as a
// window has.
type Traces[S Sample] struct {
	Data  []S
	Plane int
}

// planes returns the real and the imaginary parts of the trace of e, of the given
// number of samples.
func (t Traces[S]) planes(e Entry, samples int) (re, im []S) {
	from := trace[S](e)
	return t.Data[from : from+samples], t.Data[from+t.Plane : from+t.Plane+samples]
}

// Run is the work of one call of a [Kernel]: the lookups of a chunk in
// consecutive blocks. Strides are in bytes from a block to the next one.
type Run struct {
	Acc                          *float32 // of the first block: Pixels real parts, Pixels imaginary ones
	TxOffsets, RxOffsets         *uint32  // of element 0 in the first block
	TxBases, RxBases             *int32   // likewise
	TxOffsetStride, TxBaseStride uintptr
	RxOffsetStride, RxBaseStride uintptr
	Traces                       unsafe.Pointer
	Plane                        uintptr // bytes from a real part to the imaginary one
	Segments                     *Segment
	Count                        int // of Segments, at least 1
	Entries                      *Entry
	// A kernel counts blocks down from at least 1, and the bytes of accumulators that
	// it is done with up from 0.
	Blocks int
	Done   uintptr
}

// Kernel holds the two ways of a window kernel. Each adds the lookups of a run, in
// their order, to its accumulators. The zero value stands for the general way in plain
// Go, which any kernel must equal.
type Kernel struct {
	Joint, Split func(*Run)
}

// Counts says by which way lookups were summed, each of one pair in one block.
type Counts struct {
	Joint, Split, General uint64
	Outside               uint64 // not at all: no pixel looks into the record
}

// Add adds o to c.
func (c *Counts) Add(o Counts) {
	c.Joint += o.Joint
	c.Split += o.Split
	c.General += o.General
	c.Outside += o.Outside
}

// Adder sums over blocks of a layout. It is the scratch of one goroutine.
// [NewAdder] makes one.
type Adder[S Sample] struct {
	Kernel Kernel
	Layout *Layout
	Traces Traces[S]
	Counts Counts
	// These would be allocated at every call if they were local.
	run              Run
	within, crossing Chunk
}

// NewAdder returns the scratch of one goroutine.
func NewAdder[S Sample](k Kernel, l *Layout, t Traces[S]) Adder[S] {
	chunk := func() Chunk {
		return Chunk{Segments: make([]Segment, 0, MaxEntries), Entries: make([]Entry, 0, MaxEntries)}
	}
	return Adder[S]{Kernel: k, Layout: l, Traces: t, within: chunk(), crossing: chunk()}
}

// Sum adds the lookups of a chunk to the accumulators of blocks first to last-1,
// 2·Pixels each.
func (a *Adder[S]) Sum(acc []float32, first, last int, c *Chunk) {
	l, lookups := a.Layout, uint64(len(c.Entries))
	for first < last {
		block := l.Blocks[first]
		next := first + 1
		switch {
		case block.Kind == Empty:
			a.Counts.Outside += lookups
		case block.Kind == General || a.Kernel.Joint == nil:
			a.sumGeneral(acc[:2*Pixels], first, c)
		case !block.Inside:
			a.sumAtEnds(acc[:2*Pixels], first, c)
		default:
			for next < last && l.Blocks[next].Kind == block.Kind && l.Blocks[next].Inside {
				next++
			}
			a.sumWindows(acc, first, next, c)
		}
		acc = acc[2*Pixels*(next-first):]
		first = next
	}
}

// sumWindows lets the kernel sum blocks of one kind.
func (a *Adder[S]) sumWindows(acc []float32, first, last int, c *Chunk) {
	var s S
	l := a.Layout
	a.run = Run{
		Acc:            &acc[0],
		TxOffsets:      &l.Tx.Offsets[first*l.Tx.Elements*Pixels],
		RxOffsets:      &l.Rx.Offsets[first*l.Rx.Elements*Pixels],
		TxBases:        &l.Tx.Bases[first*l.Tx.Elements*2],
		RxBases:        &l.Rx.Bases[first*l.Rx.Elements*2],
		TxOffsetStride: uintptr(4 * Pixels * l.Tx.Elements),
		TxBaseStride:   uintptr(8 * l.Tx.Elements),
		RxOffsetStride: uintptr(4 * Pixels * l.Rx.Elements),
		RxBaseStride:   uintptr(8 * l.Rx.Elements),
		Traces:         unsafe.Pointer(&a.Traces.Data[0]),
		Plane:          uintptr(a.Traces.Plane) * unsafe.Sizeof(s),
		Segments:       &c.Segments[0],
		Count:          len(c.Segments),
		Entries:        &c.Entries[0],
		Blocks:         last - first,
	}
	lookups := uint64(len(c.Entries) * (last - first))
	if l.Blocks[first].Kind == Joint {
		a.Kernel.Joint(&a.run)
		a.Counts.Joint += lookups
	} else {
		a.Kernel.Split(&a.run)
		a.Counts.Split += lookups
	}
}

// sumAtEnds sums a block of which some windows cross an end of the record: the
// pairs whose windows lie within by the kernel, those that cross by the general way,
// and those beyond not at all.
func (a *Adder[S]) sumAtEnds(acc []float32, b int, c *Chunk) {
	l := a.Layout
	a.within.clear()
	a.crossing.clear()
	for t, e := range c.lookups {
		tx, rx := l.Tx.Bases[(b*l.Tx.Elements+t)*2:][:2], l.Rx.Bases[(b*l.Rx.Elements+e.rx())*2:][:2]
		from := int(min(tx[0]+rx[0], tx[1]+rx[1]))
		to := int(max(tx[0]+rx[0], tx[1]+rx[1])) + l.Samples
		switch {
		case to <= 0 || from >= l.samples-1:
			a.Counts.Outside++
		case from >= 0 && to <= l.samples:
			a.within.Add(t, e)
		default:
			a.crossing.Add(t, e)
		}
	}
	if len(a.within.Entries) > 0 {
		a.sumWindows(acc, b, b+1, &a.within)
	}
	if len(a.crossing.Entries) > 0 {
		a.sumGeneral(acc, b, &a.crossing)
	}
}

// Write writes the accumulators of b, times unit, to the pixels of an image whose rows
// have cols pixels.
func (b Block) Write(image []complex64, cols int, acc []float32, unit float32) {
	re, im := acc[:Pixels], acc[Pixels:2*Pixels]
	for r := range int(b.Rows) {
		row := image[b.First+r*cols:][:b.Cols]
		for c := range row {
			i := c/4*half + r*4 + c%4
			row[c] = complex(re[i]*unit, im[i]*unit)
		}
	}
}
