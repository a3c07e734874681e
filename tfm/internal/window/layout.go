// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/parallel"
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

// room returns the least sum of two offsets that is too large for w. The lookup of the last index
// also reads the sample after it.
func (w Window) room(fraction uint) int64 { return int64(w.Samples-1) << fraction }

// Format is how a kernel reads delays and samples.
type Format struct {
	Windows  []Window // the fastest first
	Fraction uint     // fraction bits of an offset
	// General is the number of fraction bits of whole delays, in blocks that no window holds. It
	// is at most Fraction.
	General uint
	// Narrow says that offsets have 16 bits. Otherwise they have 32 bits.
	Narrow bool
	// Bytes says that samples of 16 bits are packed as planes of bytes ([Traces]).
	Bytes bool
	// Interleaved says that the real and the imaginary parts of a trace alternate ([Traces]).
	Interleaved bool
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
	// FormatInterleaved is for single precision where a kernel loads the samples of each lookup
	// from the trace. All its windows have the same function. A small window only tells better
	// than a large one how far the lookups of a block reach. 8 bits of an offset are an index, and
	// the fraction has 24 bits, as many as a float32 holds exactly.
	FormatInterleaved = Format{Windows: []Window{{Pixels, 32}, {Pixels, 64}, {Pixels, 256}}, Fraction: 24, Interleaved: true}
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
	whole  int32    // the number of a General block among the General blocks
	table  [2]uint8 // the number of its table in Tx and in Rx, if a window holds the block
	end    int32    // one call of the kernel can sum all blocks from this to end-1
}

// Path gives the delays of one path.
type Path struct {
	Elements, Points int
	Seconds          []float32 // from element e to point p at e*Points + p, NaN without a ray
	// A delay in samples is (Seconds - Offset)·Rate. A delay beyond ±Reach counts as no ray.
	Offset, Rate, Reach float64
	// Tables, if not nil, holds the tables of this path, which it shares with other layouts. These
	// have the same format, and blocks of the same pixels.
	Tables *Tables
}

// outside is the whole delay where there is no ray. The sum of outside and any delay, also
// outside, is negative. Sums have 64 bits.
const outside = math.MinInt32

// Table holds the delays of one path.
type Table struct {
	order
	// shared holds the number of pixels that share a base in each block, and 0 where the table
	// does not hold the block.
	shared []uint8
	// A block has parts of equal size, and a base for each: part i at place*parts + i, where place
	// is the place of an element in a block.
	Bases []int32
	// Either Narrow or Wide holds the offsets, from place*Pixels on. They stand in the order of the
	// pixels, or, where samples of 16 bits are whole, row after row of the block.
	Narrow []uint16
	Wide   []uint32
}

// rowMajor returns the place of pixel i in the rows of a block.
func rowMajor(i int) int { return i%half/4*Cols + i/half*4 + i%4 }

// Range is a range of samples, [From, To).
type Range struct{ From, To int }

// Layout holds the blocks of an image with the tables of both paths.
type Layout struct {
	Format
	Blocks  []Block
	Tx, Rx  *Tables
	parts   int // of a block
	samples int // of a trace
	// What follows is of the transmit path and of the receive path.
	// whole holds the delays of General blocks. The delay of pixel i, element e and the General
	// block of number n is at [n][e*Pixels + i]. Each block has memory of its own: the number of
	// blocks is not known before the last one, and a slice that grows needs twice its memory while
	// it is copied.
	whole  [2][][]int32
	bounds [2]bounds
	coarse [2]bounds // of each run of blocks
	groups int       // of blocks, 0 without Group
	spans  [2]bounds // of the groups
}

// Bytes returns the memory of the tables of l in bytes.
func (l *Layout) Bytes() int {
	n := l.Tx.bytes() + 4*Pixels*len(l.whole[0])*l.Tx.Elements
	if l.Rx != l.Tx {
		n += l.Rx.bytes() + 4*Pixels*len(l.whole[1])*l.Rx.Elements
	}
	return n
}

// bounds holds the first and the last delay of each element in each block, in whole samples. The
// bounds of block b for element e are at e*blocks + b. An element without a ray has the first
// above the last; so have all elements of an Empty block. The bounds of blocks are needed only
// while a plan is made.
type bounds struct{ first, last []int32 }

// run is the number of blocks that one task lays out.
const run = 32

// New lays out the blocks of a grid whose rows have cols pixels, for traces of the given number of
// samples. It sets Kind and Inside of each block. A nil receive stands for transmit. The limit is
// the largest number of goroutines; 0 stands for all cores.
func New(f Format, blocks []Block, cols, samples int, transmit, receive *Path, limit int) *Layout {
	l := &Layout{Format: f, Blocks: blocks, parts: f.parts(), samples: samples}
	paths := []*Path{transmit}
	if receive != nil {
		paths = append(paths, receive)
	}
	tables := make([]*Tables, len(paths))
	for i, p := range paths {
		tables[i] = p.Tables
		if tables[i] == nil {
			tables[i] = new(Tables)
		}
		tables[i].order = newOrder(p.Elements, len(blocks))
		n := p.Elements * len(blocks)
		l.bounds[i] = bounds{first: make([]int32, n), last: make([]int32, n)}
	}
	l.Tx, l.Rx = tables[0], tables[len(tables)-1]
	if receive == nil {
		l.bounds[1] = l.bounds[0]
	}
	wholes := make([][2][][]int32, (len(blocks)+run-1)/run) // of each task and path
	parallel.Each(limit, len(wholes), func() func(int) {
		delays := make([]*delays, len(paths))
		for i, p := range paths {
			delays[i] = newDelays(p, cols, f)
		}
		return func(task int) {
			for b := task * run; b < min((task+1)*run, len(blocks)); b++ {
				l.lay(b, delays, tables, &wholes[task])
			}
		}
	})
	l.number(wholes)
	l.join()
	starts := []int{0} // of the runs
	for b := run; b < len(blocks)+run; b += run {
		starts = append(starts, min(b, len(blocks)))
	}
	for i := range paths {
		l.coarse[i] = l.bounds[i].group(starts, len(blocks))
	}
	if receive == nil {
		l.whole[1], l.coarse[1] = l.whole[0], l.coarse[0]
	}
	return l
}

// lay lays out block b. It appends the whole delays of a General block to wholes, for each path.
func (l *Layout) lay(b int, delays []*delays, tables []*Tables, wholes *[2][][]int32) {
	block := &l.Blocks[b]
	for _, d := range delays {
		d.read(block)
	}
	l.classify(block, delays[0], delays[len(delays)-1])
	var shared [2]int
	if block.Kind >= 0 {
		shared = l.shared(b, delays, tables)
	}
	for i, d := range delays {
		d.bound(l.bounds[i], b, len(l.Blocks), block.Kind == Empty)
		switch block.Kind {
		case Empty:
		case General:
			wholes[i] = append(wholes[i], d.whole())
		default:
			block.table[i] = tables[i].write(l, b, d, shared[i])
		}
	}
	if len(delays) == 1 {
		block.table[1] = block.table[0]
	}
}

// shared returns how many pixels of block b share a base, in the table of each path. These are the
// pixels of the window of the block. For one of the paths they may be the pixels of a larger window,
// if the offsets still fit. Layouts that need the larger window then find the delays in the same
// table. The best choice needs the fewest tables. Among equal choices, the path whose delays change
// less has the larger window.
func (l *Layout) shared(b int, delays []*delays, tables []*Tables) [2]int {
	kind := l.Blocks[b].Kind
	w := l.Windows[kind]
	best := [2]int{w.Pixels, w.Pixels}
	if len(delays) == 1 {
		return best
	}
	least := tables[0].number(b, w.Pixels) + tables[1].number(b, w.Pixels)
	for k, wide := range l.Windows {
		for i, d := range delays {
			other := delays[1-i]
			if wide.Pixels <= w.Pixels || d.spread[k]+other.spread[kind] >= w.room(l.Fraction) {
				continue
			}
			n := tables[i].number(b, wide.Pixels) + tables[1-i].number(b, w.Pixels)
			if n < least || n == least && d.spread[k] < other.spread[k] {
				least = n
				best[i], best[1-i] = wide.Pixels, w.Pixels
			}
		}
	}
	return best
}

// number numbers the General blocks, and collects their whole delays from the tasks.
func (l *Layout) number(wholes [][2][][]int32) {
	n := int32(0)
	for b := range l.Blocks {
		if l.Blocks[b].Kind == General {
			l.Blocks[b].whole = n
			n++
		}
	}
	for i := range l.whole {
		l.whole[i] = make([][]int32, 0, n)
		for task := range wholes {
			l.whole[i] = append(l.whole[i], wholes[task][i]...)
		}
	}
}

// join sets the end of each block. Sum needs it in each frame, and a search there took some
// hundredths of its time.
func (l *Layout) join() {
	for b := range slices.Backward(l.Blocks) {
		block := &l.Blocks[b]
		block.end = int32(b + 1)
		if b+1 < len(l.Blocks) && block.alike(&l.Blocks[b+1]) {
			block.end = l.Blocks[b+1].end
		}
	}
}

// alike reports whether one call of the kernel can sum b and c, which are neighbours.
func (b *Block) alike(c *Block) bool {
	return b.Kind == c.Kind && b.Inside == c.Inside && b.table == c.table
}

// classify sets how b can be summed.
func (l *Layout) classify(b *Block, tx, rx *delays) {
	last := int64(l.samples - 1)
	first, end := tx.first+rx.first, tx.last+rx.last
	b.Kind = General
	switch {
	case tx.first > tx.last || rx.first > rx.last || end < 0 || first >= last<<l.Fraction:
		b.Kind = Empty
		return
	case tx.missing || rx.missing:
		return
	}
	for i, w := range l.Windows {
		if tx.spread[i]+rx.spread[i] < w.room(l.Fraction) {
			b.Kind = Kind(i)
			// A window begins at the sum of two whole numbers. Two fractions may add up to one
			// sample more.
			begin := tx.first>>l.Fraction + rx.first>>l.Fraction
			b.Inside = begin >= 0 && end>>l.Fraction+int64(w.Samples) <= int64(l.samples)
			return
		}
	}
}

// Reads returns the range of samples that the lookups of a transmitter and a receiver read in all
// blocks. The range is empty if they read none. It may hold up to two samples more at its end.
func (l *Layout) Reads(tx, rx int) Range {
	first, last := l.earliest(tx, rx), l.latest(tx, rx)
	// Two fractions may add up to one sample more. Rounding to the bits of General may add one
	// more. A lookup reads two samples.
	from, to := max(first, 0), min(last+4, int64(l.samples))
	if first > last || from >= to {
		return Range{}
	}
	return Range{int(from), int(to)}
}

// earliest returns the first delay of a transmitter and a receiver in all blocks. The sum of the
// first delays of both in a run is at most the first delay of the pair there. So most runs need no
// look at their blocks, and pairs times blocks do not count. latest begins at the end, where
// delays are long.
func (l *Layout) earliest(tx, rx int) int64 {
	sent, received := l.bounds[0].of(tx, len(l.Blocks)), l.bounds[1].of(rx, len(l.Blocks))
	runs := len(l.coarse[0].first) / l.Tx.Elements
	least, other := l.coarse[0].of(tx, runs), l.coarse[1].of(rx, runs)
	first := int64(math.MaxInt64)
	for r, v := range least.first {
		if int64(v)+int64(other.first[r]) < first {
			for b := r * run; b < min((r+1)*run, len(l.Blocks)); b++ {
				first = min(first, int64(sent.first[b])+int64(received.first[b]))
			}
		}
	}
	return first
}

// latest returns the last delay of a transmitter and a receiver in all blocks.
func (l *Layout) latest(tx, rx int) int64 {
	sent, received := l.bounds[0].of(tx, len(l.Blocks)), l.bounds[1].of(rx, len(l.Blocks))
	runs := len(l.coarse[0].last) / l.Tx.Elements
	most, other := l.coarse[0].of(tx, runs), l.coarse[1].of(rx, runs)
	last := int64(math.MinInt64)
	for r, v := range slices.Backward(most.last) {
		if int64(v)+int64(other.last[r]) > last {
			for b := r * run; b < min((r+1)*run, len(l.Blocks)); b++ {
				last = max(last, int64(sent.last[b])+int64(received.last[b]))
			}
		}
	}
	return last
}

// of returns the bounds of element e.
func (b bounds) of(e, blocks int) bounds {
	return bounds{b.first[e*blocks : (e+1)*blocks], b.last[e*blocks : (e+1)*blocks]}
}

// Planned releases the memory that is needed only while a plan is made. Afterwards Reads must not
// be called.
func (l *Layout) Planned() { l.bounds, l.coarse = [2]bounds{}, [2]bounds{} }
