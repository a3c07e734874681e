// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"math"
	"unsafe"
)

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

// Segment says of which transmitters the next entries are: Count of Tx alone, or,
// unless Second is [Alone], Count times two, of Tx and of Second with one receiver.
type Segment struct {
	Tx, Second uint32
	Count      uint64 // at least 1
}

// Alone in place of a second transmitter says that there is none.
const Alone = math.MaxUint32

// MaxEntries is the largest number of lookups in a [Chunk]: as many as a sum of
// full-scale 16-bit samples, with weights of 11 bits, fits into 32 bits.
//
//	32 · 32767 · 2048 = 2,147,418,112 < 2³¹
const MaxEntries = 32

// Chunk is up to [MaxEntries] lookups, which a kernel sums in one go, those of a
// transmitter, or of two, together.
type Chunk struct {
	Segments []Segment
	Entries  []Entry
}

// Add adds a lookup to c.
func (c *Chunk) Add(tx int, e Entry) {
	c.segment(uint32(tx), Alone).Count++
	c.Entries = append(c.Entries, e)
}

// AddTwo adds the lookups of two transmitters with one receiver to c.
func (c *Chunk) AddTwo(tx, second int, e, secondEntry Entry) {
	c.segment(uint32(tx), uint32(second)).Count++
	c.Entries = append(c.Entries, e, secondEntry)
}

// segment returns the segment that lookups of the given transmitters go to.
func (c *Chunk) segment(tx, second uint32) *Segment {
	last := len(c.Segments) - 1
	if last < 0 || c.Segments[last].Tx != tx || c.Segments[last].Second != second {
		c.Segments = append(c.Segments, Segment{Tx: tx, Second: second})
		last++
	}
	return &c.Segments[last]
}

// clear empties c and keeps its memory.
func (c *Chunk) clear() { c.Segments, c.Entries = c.Segments[:0], c.Entries[:0] }

// lookups yields the lookups of c with their transmitters.
func (c *Chunk) lookups(yield func(tx int, e Entry) bool) {
	entries := c.Entries
	for _, s := range c.Segments {
		for range s.Count {
			if !yield(int(s.Tx), entries[0]) {
				return
			}
			entries = entries[1:]
			if s.Second == Alone {
				continue
			}
			if !yield(int(s.Second), entries[0]) {
				return
			}
			entries = entries[1:]
		}
	}
}

// Sample is a packed sample.
type Sample interface{ int16 | float32 }

// Padding is the number of samples behind a window that a kernel may read, and does not
// use: AVX2 loads second neighbours as a window that begins one sample later.
const Padding = 1

// Traces are packed traces: the real parts of the samples of a trace, and Plane
// samples on the imaginary parts. [Padding] samples lie behind the last trace.
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
	Acc                          *float32       // of the first block: Pixels real parts, Pixels imaginary ones
	TxOffsets, RxOffsets         unsafe.Pointer // of element 0 in the first block
	TxBases, RxBases             *int32         // likewise
	TxOffsetStride, TxBaseStride uintptr
	RxOffsetStride, RxBaseStride uintptr
	Traces                       unsafe.Pointer
	Plane                        uintptr // bytes from a real part to the imaginary one
	Segments                     *Segment
	Count                        int // of Segments, at least 1
	Entries                      *Entry
	// A kernel counts blocks down from at least 1, and up, from 0, the bytes of
	// accumulators, and of a transmitter's offsets and bases, that it is done with: it
	// must not move pointers, since the last step would lead out of their memory.
	Blocks                           int
	Done, TxOffsetsDone, TxBasesDone uintptr
}

// Kernel holds the two ways of a window kernel. Each adds the lookups of a run, in
// their order, to its accumulators. The zero value stands for the general way in plain
// Go, which any kernel must equal.
type Kernel struct {
	Joint, Split func(*Run)
	// Write does what [Block.Write] does, for a block of which all pixels are in the
	// image, whose rows are stride bytes apart.
	Write func(dst *complex64, stride uintptr, acc *float32, unit float32)
	// Pairs says that the kernel takes segments of two transmitters, and gains by them.
	Pairs bool
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
		TxOffsets:      l.Tx.offsets(first),
		RxOffsets:      l.Rx.offsets(first),
		TxBases:        &l.Tx.Bases[first*l.Tx.Elements*2],
		RxBases:        &l.Rx.Bases[first*l.Rx.Elements*2],
		TxOffsetStride: uintptr(l.offsetBytes() * Pixels * l.Tx.Elements),
		TxBaseStride:   uintptr(8 * l.Tx.Elements),
		RxOffsetStride: uintptr(l.offsetBytes() * Pixels * l.Rx.Elements),
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

// offsets returns where the offsets of block b begin.
func (t *Table) offsets(b int) unsafe.Pointer {
	if t.Narrow != nil {
		return unsafe.Pointer(&t.Narrow[b*t.Elements*Pixels])
	}
	return unsafe.Pointer(&t.Wide[b*t.Elements*Pixels])
}

// offsetBytes returns the size of an offset.
func (f Format) offsetBytes() int {
	if f.Narrow {
		return 2
	}
	return 4
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

// Write writes the accumulators of block b, times unit, to the pixels of an image whose
// rows have cols pixels.
func (a *Adder[S]) Write(image []complex64, cols, b int, acc []float32, unit float32) {
	block := a.Layout.Blocks[b]
	if a.Kernel.Write == nil || block.Rows < Rows || block.Cols < Cols {
		block.Write(image, cols, acc, unit)
		return
	}
	_ = image[block.First+(Rows-1)*cols+Cols-1]
	a.Kernel.Write(&image[block.First], uintptr(cols)*unsafe.Sizeof(image[0]), &acc[0], unit)
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
