// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"math"
	"slices"
)

// Size of a block in pixels.
const (
	Cols, Rows = 8, 4
	Pixels     = Cols * Rows
	half       = Pixels / 2
)

// Window is what a kernel looks up at once in a trace.
type Window struct {
	Pixels  int // number of consecutive pixels that share the window: it divides Pixels
	Samples int // in the window; a lookup reads two neighbouring samples
}

// Format is how a kernel reads delays and samples.
type Format struct {
	Windows  []Window // the fastest first
	Fraction uint     // fraction bits of an offset
	// General is the number of fraction bits of whole delays, in blocks that no window holds. It is
	// at most Fraction.
	General uint
	// Narrow says that offsets have 16 bits. Otherwise they have 32 bits.
	Narrow bool
	// Bytes says that samples of 16 bits are packed as planes of bytes ([Traces]).
	Bytes bool
}

var (
	// Format16 is for samples of 16 bits. 5 bits of an offset are an index into the window, and 11
	// bits give the weights of two neighbouring samples.
	Format16 = Format{Windows: []Window{{Pixels, 32}, {half, 32}}, Fraction: 11, Narrow: true}
	// FormatBytes is for samples of 16 bits in planes of bytes. A table of 16 bytes then holds a
	// window of 16 samples.
	FormatBytes = Format{Windows: []Window{{half, 16}, {half / 2, 16}, {half, 32}}, Fraction: 11, Narrow: true, Bytes: true}
	// Format32 is for single precision. The fraction has 23 bits, like the fraction of a float32.
	Format32 = Format{Windows: []Window{{Pixels, 32}, {half, 32}}, Fraction: 23}
)

// maxWindows is the largest number of windows in a format.
const maxWindows = 3

// parts returns the number of bases of an element in a block, one for each part of the block that
// may have a window of its own.
func (f Format) parts() int {
	parts := 1
	for _, w := range f.Windows {
		parts = max(parts, Pixels/w.Pixels)
	}
	return parts
}

// place returns where the offset of pixel i stands among the offsets of a block.
func (f Format) place(i int) int {
	if f.Narrow && !f.Bytes {
		return rowMajor(i)
	}
	return i
}

// Kind is how a block can be summed: the number of the window in the format, or General or Empty.
type Kind int8

const (
	General Kind = -1 - iota // no window holds the block, or a pixel has no ray: each pixel is looked up alone
	Empty                    // no pixel of the block looks into the record for any pair
)

// Block is a piece of the image.
type Block struct {
	First      int   // index of its first pixel in the grid
	Rows, Cols uint8 // of the block that lie in the image; the other pixels repeat the last ones
	Kind       Kind
	// Inside says that no window of the block crosses an end of the record.
	Inside bool
	whole  int32 // the number of a General block among the General blocks
}

// Path gives the delays of one path.
type Path struct {
	Elements, Points int
	Seconds          []float32 // from element e to point p at e*Points + p, NaN without a ray
	// A delay in samples is (Seconds - Offset)·Rate. A delay beyond ±Reach counts as no ray.
	Offset, Rate, Reach float64
}

// outside is the whole delay where there is no ray. The sum of outside and any delay, also outside,
// is negative. Sums have 64 bits.
const outside = math.MinInt32

// Table holds the delays of one path, block after block, element after element.
type Table struct {
	Elements int
	// A block has parts of equal size, and a base for each: of element e, part i and block b at
	// (b*Elements + e)*parts + i.
	Bases []int32
	// Either Narrow or Wide holds the offsets. The offsets of element e in block b begin at
	// (b*Elements + e)*Pixels. They stand in the order of the pixels, or, where samples of 16 bits
	// are whole, row after row of the block.
	Narrow []uint16
	Wide   []uint32
	// whole holds the delays of General blocks. The delay of pixel i, element e and the General
	// block of number n is at [n][e*Pixels + i]. Each block has memory of its own: the number of
	// blocks is not known before the last one, and a slice that grows needs twice its memory while
	// it is copied.
	whole [][]int32
}

// Bytes returns the memory of t in bytes.
func (t *Table) Bytes() int {
	return 4*(len(t.Bases)+len(t.Wide)+len(t.whole)*t.Elements*Pixels) + 2*len(t.Narrow)
}

// rowMajor returns the place of pixel i in the rows of a block.
func rowMajor(i int) int { return i%half/4*Cols + i/half*4 + i%4 }

// Range is a range of samples, [From, To).
type Range struct{ From, To int }

// Layout holds the blocks of an image with the tables of both paths.
type Layout struct {
	Format
	Blocks  []Block
	Tx, Rx  *Table
	samples int       // of a trace
	bounds  [2]bounds // of the transmit path and of the receive path
}

// bounds holds the first and the last delay of each element in each block, in whole samples. The
// bounds of element e in block b are at b*Elements + e. They are needed only while a plan is made.
type bounds struct{ first, last []int32 }

// New lays out the blocks of a grid whose rows have cols pixels, for traces of the given number of
// samples. It sets Kind and Inside of each block. A nil receive stands for transmit.
func New(f Format, blocks []Block, cols, samples int, transmit, receive *Path) *Layout {
	l := &Layout{Format: f, Blocks: blocks, samples: samples}
	paths := []*Path{transmit}
	if receive != nil {
		paths = append(paths, receive)
	}
	tables := make([]*Table, len(paths))
	blockDelays := make([]*delays, len(paths))
	for i, p := range paths {
		tables[i] = &Table{Elements: p.Elements, Bases: make([]int32, f.parts()*p.Elements*len(blocks))}
		if f.Narrow {
			tables[i].Narrow = make([]uint16, Pixels*p.Elements*len(blocks))
		} else {
			tables[i].Wide = make([]uint32, Pixels*p.Elements*len(blocks))
		}
		blockDelays[i] = &delays{elements: p.Elements, fixed: make([]int64, p.Elements*Pixels)}
		n := p.Elements * len(blocks)
		l.bounds[i] = bounds{first: make([]int32, n), last: make([]int32, n)}
	}
	l.Tx, l.Rx = tables[0], tables[len(tables)-1]
	if receive == nil {
		l.bounds[1] = l.bounds[0]
	}
	whole := int32(0)
	for b := range blocks {
		for i, p := range paths {
			blockDelays[i].read(p, &blocks[b], cols, f)
			blockDelays[i].bounds(l.bounds[i], b, f.Fraction)
		}
		tx, rx := blockDelays[0], blockDelays[len(paths)-1]
		l.classify(&blocks[b], tx, rx)
		for i, t := range tables {
			switch kind := blocks[b].Kind; {
			case kind == General:
				blocks[b].whole = whole
				t.writeWhole(blockDelays[i], f)
			case kind != Empty:
				t.write(b, blockDelays[i], f.Windows[kind].Pixels, f)
			}
		}
		if blocks[b].Kind == General {
			whole++
		}
	}
	return l
}

// classify sets how b can be summed.
func (l *Layout) classify(b *Block, tx, rx *delays) {
	last := int64(l.samples - 1)
	first, end := tx.first+rx.first, tx.last+rx.last
	b.Kind = General
	switch {
	case tx.rays == 0 || rx.rays == 0 || end < 0 || first >= last<<l.Fraction:
		b.Kind = Empty
		return
	case tx.rays < Pixels*tx.elements || rx.rays < Pixels*rx.elements:
		return
	}
	for i, w := range l.Windows {
		// The lookup of the last index also reads the sample after it.
		if tx.spread[i]+rx.spread[i] < int64(w.Samples-1)<<l.Fraction {
			b.Kind = Kind(i)
			// A window begins at the sum of two whole numbers. Two fractions may add up to one sample more.
			begin := tx.first>>l.Fraction + rx.first>>l.Fraction
			b.Inside = begin >= 0 && end>>l.Fraction+int64(w.Samples) <= int64(l.samples)
			return
		}
	}
}

// delays holds the delays of one path in one block in fixed point.
type delays struct {
	elements    int
	fixed       []int64 // of pixel i and element e at e*Pixels + i; none without a ray
	rays        int     // number of delays that are not none
	first, last int64   // least and greatest delay
	// spread is the largest offset of any element for each window of the format. An offset is measured
	// from the whole number of samples below the first delay of the pixels that share the window.
	spread [maxWindows]int64
}

// none is the fixed-point delay where there is no ray.
const none = math.MinInt64

// read sets d to the delays of p in b.
func (d *delays) read(p *Path, b *Block, cols int, f Format) {
	d.rays, d.first, d.last, d.spread = 0, math.MaxInt64, math.MinInt64, [maxWindows]int64{}
	unit := float64(int64(1) << f.Fraction)
	for e := range d.elements {
		fixed := d.fixed[e*Pixels:][:Pixels]
		for i := range fixed {
			// Pixels beyond the image repeat the last pixels in the image.
			row := min(rowMajor(i)/Cols, int(b.Rows)-1)
			col := min(rowMajor(i)%Cols, int(b.Cols)-1)
			samples := (float64(p.Seconds[e*p.Points+b.First+row*cols+col]) - p.Offset) * p.Rate
			fixed[i] = none
			if math.Abs(samples) <= p.Reach {
				fixed[i] = int64(math.Round(samples * unit))
				d.rays++
			}
		}
		first, last := extent(fixed)
		if first > last {
			continue
		}
		d.first, d.last = min(d.first, first), max(d.last, last)
		for i, w := range f.Windows {
			for part := range slices.Chunk(fixed, w.Pixels) {
				if first, last := extent(part); first <= last {
					d.spread[i] = max(d.spread[i], last-wholeBelow(first, f.Fraction))
				}
			}
		}
	}
}

// extent returns the least and the greatest delay in fixed. If there is no delay, first is above
// last.
func extent(fixed []int64) (first, last int64) {
	first, last = math.MaxInt64, math.MinInt64
	for _, v := range fixed {
		if v != none {
			first, last = min(first, v), max(last, v)
		}
	}
	return first, last
}

// wholeBelow returns v rounded down to whole samples.
func wholeBelow(v int64, fraction uint) int64 { return v >> fraction << fraction }

// bounds sets the bounds of each element in block b.
func (d *delays) bounds(to bounds, b int, fraction uint) {
	for e := range d.elements {
		first, last := extent(d.fixed[e*Pixels:][:Pixels])
		i := b*d.elements + e
		to.first[i], to.last[i] = math.MaxInt32, math.MinInt32
		if first <= last {
			to.first[i], to.last[i] = int32(first>>fraction), int32(last>>fraction)
		}
	}
}

// write sets the bases and offsets of block b, in which shared pixels share a window.
func (t *Table) write(b int, d *delays, shared int, f Format) {
	size := Pixels / f.parts()
	for e := range t.Elements {
		fixed := d.fixed[e*Pixels:][:Pixels]
		at := b*t.Elements + e
		bases := t.Bases[at*f.parts():][:f.parts()]
		for i := 0; i < Pixels; i += shared {
			first, _ := extent(fixed[i:][:shared])
			for part := i / size; part < (i+shared)/size; part++ {
				bases[part] = int32(first >> f.Fraction)
			}
			for k := i; k < i+shared; k++ {
				offset := fixed[k] - wholeBelow(first, f.Fraction)
				if f.Narrow {
					t.Narrow[at*Pixels+f.place(k)] = uint16(offset)
				} else {
					t.Wide[at*Pixels+k] = uint32(offset)
				}
			}
		}
	}
}

// writeWhole adds the whole delays of a block to t.
func (t *Table) writeWhole(d *delays, f Format) {
	whole := make([]int32, len(d.fixed))
	for i, v := range d.fixed {
		whole[i] = outside
		if v != none {
			whole[i] = int32(roundShift(v, f.Fraction-f.General))
		}
	}
	t.whole = append(t.whole, whole)
}

// roundShift returns v/2^n rounded to the nearest integer, halves up.
func roundShift(v int64, n uint) int64 {
	unit := int64(1) << n
	return (v + unit/2) >> n
}

// Reads returns the range of samples that the lookups of a transmitter and a receiver read in all
// blocks. The range is empty if they read none. It may hold up to two samples more at its end.
func (l *Layout) Reads(tx, rx int) Range {
	first, last := int64(math.MaxInt64), int64(math.MinInt64)
	for b := range l.Blocks {
		if l.Blocks[b].Kind == Empty {
			continue
		}
		// The bounds of an element without a ray are in descending order, and change nothing here.
		i, j := b*l.Tx.Elements+tx, b*l.Rx.Elements+rx
		first = min(first, int64(l.bounds[0].first[i])+int64(l.bounds[1].first[j]))
		last = max(last, int64(l.bounds[0].last[i])+int64(l.bounds[1].last[j]))
	}
	// Two fractions may add up to one sample more. Rounding to the bits of General may add one
	// more. A lookup reads two samples.
	from, to := max(first, 0), min(last+4, int64(l.samples))
	if first > last || from >= to {
		return Range{}
	}
	return Range{int(from), int(to)}
}

// Planned releases the memory that is needed only while a plan is made. Afterwards Reads must not
// be called.
func (l *Layout) Planned() { l.bounds = [2]bounds{} }
