// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"math"
	"unsafe"
)

// Sample is a packed sample.
type Sample interface{ int16 | float32 }

// Traces holds packed traces. The imaginary parts of a trace begin Plane samples after its real
// parts. The format says how samples of 16 bits are stored ([Ints]). Where the format is
// Interleaved, the imaginary part of a sample stands behind its real part, and a trace has the
// same room, 2·Plane samples.
//
// Traces may have several layers, such as the samples and functions of them, which are summed at
// the same delays. The traces of the More layers after the first stand behind the trace of the
// first. If Narrow is true, which [Kernel.AtOnce] must allow, these layers have 16 bits: see
// [NarrowLayer].
type Traces[S Sample] struct {
	Data   []S
	Plane  int
	More   int
	Narrow bool
}

// Planes returns the room that the trace of a lookup takes in all layers, in multiples of Plane.
func (t Traces[S]) Planes() int {
	if t.Narrow && t.More > 0 {
		return 4
	}
	return 2 * (1 + t.More)
}

// NarrowLayer returns layer 1 or 2 of t, which has 16 bits, from its first trace on. Two planes
// behind the trace of layer 0 hold the real parts and the imaginary parts of both. The plane of
// layer 2 is the second half of each.
func NarrowLayer(t Traces[float32], layer int) Traces[int16] {
	all := unsafe.Slice((*int16)(unsafe.Pointer(unsafe.SliceData(t.Data))), 2*len(t.Data))
	return Traces[int16]{Data: all[(3+layer)*t.Plane:], Plane: 2 * t.Plane}
}

// planes returns the real and the imaginary parts of the trace of e in a layer, which has the
// given number of samples.
func (t *Traces[S]) planes(e Entry, layer, samples int) (re, im []S) {
	from := trace[S](e) + 2*layer*t.Plane
	return t.Data[from : from+samples], t.Data[from+t.Plane : from+t.Plane+samples]
}

// Counts holds how many lookups were summed in which way. A lookup is one pair in one block and
// one layer.
type Counts struct {
	Windows [maxWindows]uint64 // in windows of the format
	General uint64
	Outside uint64 // not summed: no pixel looks into the record
}

// Add adds o to c.
func (c *Counts) Add(o Counts) {
	for i, n := range o.Windows {
		c.Windows[i] += n
	}
	c.General += o.General
	c.Outside += o.Outside
}

// Adder sums over blocks of a layout. It is the scratch of one goroutine. [NewAdder] makes one.
type Adder[S Sample] struct {
	Kernel Kernel
	Layout *Layout
	Traces Traces[S]
	Counts Counts

	streams []stream // of a trace
	// If these were local variables, every call would allocate them.
	run              Run
	within, crossing Chunk
}

// NewAdder returns the scratch of one goroutine.
func NewAdder[S Sample](k Kernel, l *Layout, t Traces[S]) Adder[S] {
	chunk := func() Chunk {
		return Chunk{
			Segments: make([]Segment, 0, MaxEntries),
			Entries:  make([]Entry, 0, MaxEntries),
		}
	}
	return Adder[S]{Kernel: k, Layout: l, Traces: t, streams: t.streams(l.Format), within: chunk(), crossing: chunk()}
}

// Sum adds the lookups of a chunk to the accumulators of blocks first to last-1. Each block has
// 2·[Pixels] accumulators in each layer. All blocks of a layer stand before the next layer.
func (a *Adder[S]) Sum(acc []float32, first, last int, c *Chunk) {
	l, lookups := a.Layout, uint64(len(c.Entries)*(1+a.Traces.More))
	layer := len(acc) / (1 + a.Traces.More)
	for first < last {
		block, next := &l.Blocks[first], first+1
		switch {
		case block.Kind == Empty:
			a.Counts.Outside += lookups
		case block.Kind == General || a.Kernel.Sums == nil:
			a.sumGeneral(acc, layer, first, c)
		case !block.Inside:
			a.sumAtEnds(acc, layer, first, c)
		default:
			next = min(int(block.end), last)
			a.sumWindows(acc, layer, first, next, c)
		}
		acc = acc[2*Pixels*(next-first):]
		first = next
	}
}

// sumWindows calls the kernel for blocks of one kind. Their accumulators begin at acc in the first
// layer, and layer numbers later in each next layer.
func (a *Adder[S]) sumWindows(acc []float32, layer, first, last int, c *Chunk) {
	var s S
	l, more := a.Layout, a.Traces.More
	sums, calls := a.Kernel.Sums, 1+more
	if a.Traces.Narrow || l.Format.Narrow && a.Kernel.AtOnce(more) {
		sums, calls = a.Kernel.More[more-1], 1
	}
	kind, parts, tables := l.Blocks[first].Kind, l.parts, l.tables(first)
	tx, rx := tables[0], tables[1]
	for i := range calls {
		a.run = Run{
			Acc:            &acc[i*layer],
			AccLayer:       uintptr(layer) * unsafe.Sizeof(acc[0]),
			TxOffsets:      tx.offsets(first),
			RxOffsets:      rx.offsets(first),
			TxBases:        &tx.Bases[tx.at(first, 0)*parts],
			RxBases:        &rx.Bases[rx.at(first, 0)*parts],
			TxOffsetStride: uintptr(l.offsetBytes() * Pixels * tx.group),
			TxBaseStride:   uintptr(4 * parts * tx.group),
			RxOffsetStride: uintptr(l.offsetBytes() * Pixels * rx.group),
			RxBaseStride:   uintptr(4 * parts * rx.group),
			Traces:         unsafe.Pointer(&a.Traces.Data[2*i*a.Traces.Plane]),
			Plane:          uintptr(a.Traces.Plane) * unsafe.Sizeof(s),
			Narrow:         uintptr(a.Traces.Plane) * unsafe.Sizeof(s) / 2,
			Segments:       &c.Segments[0],
			Count:          len(c.Segments),
			Entries:        &c.Entries[0],
			Blocks:         last - first,
		}
		sums[kind](&a.run)
	}
	a.Counts.Windows[kind] += uint64(len(c.Entries) * (last - first) * (1 + more))
}

// tables returns the table of each path that holds block b.
func (l *Layout) tables(b int) [2]*Table {
	of := l.Blocks[b].table
	return [2]*Table{l.Tx.all[of[0]], l.Rx.all[of[1]]}
}

// offsets returns the address of the offsets of slot 0 in block b.
func (t *Table) offsets(b int) unsafe.Pointer {
	if t.Narrow != nil {
		return unsafe.Pointer(&t.Narrow[t.at(b, 0)*Pixels])
	}
	return unsafe.Pointer(&t.Wide[t.at(b, 0)*Pixels])
}

// offsetBytes returns the size of an offset.
func (f Format) offsetBytes() int {
	if f.Narrow {
		return 2
	}
	return 4
}

// sumAtEnds sums a block that has windows which cross an end of the record. The kernel sums the
// pairs whose windows lie within the record. The general way sums the pairs whose windows cross an
// end. Pairs whose windows lie beyond the record are not summed.
func (a *Adder[S]) sumAtEnds(acc []float32, layer, b int, c *Chunk) {
	l := a.Layout
	parts, samples, tables := l.parts, l.Windows[l.Blocks[b].Kind].Samples, l.tables(b)
	a.within.clear()
	a.crossing.clear()
	for t, e := range c.lookups {
		tx := tables[0].Bases[tables[0].at(b, t)*parts:][:parts]
		rx := tables[1].Bases[tables[1].at(b, int(e.Rx))*parts:][:parts]
		from, to := math.MaxInt, math.MinInt
		for i, base := range tx {
			begin := int(base + rx[i])
			from, to = min(from, begin), max(to, begin+samples)
		}
		switch {
		case to <= 0 || from >= l.samples-1:
			a.Counts.Outside += uint64(1 + a.Traces.More)
		case from >= 0 && to <= l.samples:
			a.within.Add(t, e)
		default:
			a.crossing.Add(t, e)
		}
	}
	if len(a.within.Entries) > 0 {
		a.sumWindows(acc, layer, b, b+1, &a.within)
	}
	if len(a.crossing.Entries) > 0 {
		a.sumGeneral(acc, layer, b, &a.crossing)
	}
}

// Write writes the accumulators of block b, multiplied by unit, to an image whose rows have cols
// pixels.
func (a *Adder[S]) Write(image []complex64, cols, b int, acc []float32, unit float32) {
	block := &a.Layout.Blocks[b]
	if a.Kernel.Write == nil || block.Rows < Rows || block.Cols < Cols {
		block.Write(image, cols, acc, unit)
		return
	}
	_ = image[block.First+(Rows-1)*cols+Cols-1]
	a.Kernel.Write(&image[block.First], uintptr(cols)*unsafe.Sizeof(image[0]), &acc[0], unit)
}

// Write writes the accumulators of b, multiplied by unit, to an image whose rows have cols pixels.
func (b *Block) Write(image []complex64, cols int, acc []float32, unit float32) {
	re, im := acc[:Pixels], acc[Pixels:2*Pixels]
	for r := range int(b.Rows) {
		row := image[b.First+r*cols:][:b.Cols]
		for c := range row {
			i := c/4*half + r*4 + c%4
			row[c] = complex(re[i]*unit, im[i]*unit)
		}
	}
}
