// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"cmp"
	"math"
	"slices"
	"unsafe"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
	"github.com/isochron-imaging/isochron/wedge"
)

// windowed is a kernel that looks blocks of pixels up in windows of the traces.
type windowed[S window.Sample] struct {
	plan   *Plan
	kernel window.Kernel
	layout *window.Layout
	blocks []int // of tile i: blocks[i] to blocks[i+1] - 1
	chunks []*window.Chunk
	events [][]*window.Chunk // the chunks of each event, if the plan compounds
	ranges []window.Range    // of each trace, what the image reads
	layers window.Traces[S]  // without data
	// frame makes the frame of a layer.
	frame func(w *windowed[S], traces window.Traces[S], layer int) frame
}

func newWindowed[S window.Sample](p *Plan, k window.Kernel, transmit, receive *wedge.Times, axis timeAxis, frame func(*windowed[S], window.Traces[S], int) frame) *windowed[S] {
	f := k.Format
	f.General = min(axis.fraction+1, f.Fraction) // since their sums have 64 bits
	tx, rx := axis.path(transmit), (*window.Path)(nil)
	if receive != transmit {
		rx = axis.path(receive)
	}
	blocks, starts := blocksOf(p.grid, p.tiles)
	w := &windowed[S]{
		plan:   p,
		kernel: k,
		layout: window.New(f, blocks, p.grid.Cols, p.samples, tx, rx, p.workers),
		blocks: starts,
		layers: window.Traces[S]{Plane: planeOf[S](p.samples), More: p.layers() - 1},
		ranges: make([]window.Range, len(p.traces)),
		frame:  frame,
	}
	w.layers.Narrow = !f.Narrow && k.AtOnce(w.layers.More) && p.coherence.measure.bound(0) > 0
	w.note()
	if _, frame := w.bytes(); k.Prefetched && frame > prefetched {
		w.layout.Group(starts)
	}
	w.layout.Planned()
	w.cut()
	return w
}

// prefetched is the size of the packed traces in bytes from which on a worker prefetches the traces
// of the next chunk. For 17 MB this saves 3 to 10 % of the time, for 9 MB and less nothing.
const prefetched = 8 << 20

// cut cuts all lookups into chunks. If the plan compounds, a chunk has lookups of one event only.
func (w *windowed[S]) cut() {
	if w.plan.compound == nil {
		w.cutLookups(slices.Clone(w.plan.lookups))
		return
	}
	for tx := range w.plan.compound.events {
		first := len(w.chunks)
		w.cutLookups(slices.Clone(w.plan.lookupsOf(tx)))
		w.events = append(w.events, w.chunks[first:len(w.chunks):len(w.chunks)])
	}
}

// cutLookups cuts lookups into chunks. One group of receivers follows the other, with all its
// transmitters. So a full chunk has two transmitters and 16 receivers. It reads few delays, and the
// delays of the receivers stay in the second-level cache from chunk to chunk.
func (w *windowed[S]) cutLookups(lookups []lookup) {
	slices.SortStableFunc(lookups, func(a, b lookup) int {
		order := w.layout.Rx.Group(a.rx) - w.layout.Rx.Group(b.rx)
		if w.kernel.Pairs {
			order = cmp.Or(order, a.tx/2-b.tx/2, a.rx-b.rx)
		}
		return order
	})
	c, tx := w.newChunk(), w.layout.Tx
	for len(lookups) > 0 {
		n := 1
		if w.kernel.Pairs && len(lookups) > 1 && lookups[1].tx^1 == lookups[0].tx && lookups[1].rx == lookups[0].rx {
			n = 2
		}
		if len(c.Entries)+n > window.MaxEntries {
			c = w.newChunk()
		}
		if n == 1 {
			c.Add(tx.Slot(lookups[0].tx), w.entry(lookups[0]))
		} else {
			c.AddTwo(tx.Slot(lookups[0].tx), tx.Slot(lookups[1].tx), w.entry(lookups[0]), w.entry(lookups[1]))
		}
		lookups = lookups[n:]
	}
}

// newChunk adds an empty chunk, and returns it.
func (w *windowed[S]) newChunk() *window.Chunk {
	c := new(window.Chunk)
	w.chunks = append(w.chunks, c)
	return c
}

// entry returns the entry of l.
func (w *windowed[S]) entry(l lookup) window.Entry {
	var s S
	return window.NewEntry(w.layout.Rx.Slot(l.rx), w.at(l.trace)*int(unsafe.Sizeof(s)))
}

// note notes which samples of each trace are read.
func (w *windowed[S]) note() {
	lookups := w.plan.lookups
	reads := make([]window.Range, len(lookups))
	parallel.Each(w.plan.workers, len(lookups), func() func(int) {
		return func(i int) { reads[i] = w.layout.Reads(lookups[i].tx, lookups[i].rx) }
	})
	for i, l := range lookups {
		r, reads := &w.ranges[l.trace], reads[i]
		if r.From == r.To {
			*r = reads
		} else if reads.From != reads.To {
			r.From, r.To = min(r.From, reads.From), max(r.To, reads.To)
		}
	}
}

// stripCols is the width of a strip in pixels. A tile is summed in strips, and a strip row after
// row. The traces that a row of a strip reads for a chunk then stay in the first-level cache until
// the next row reads them.
const stripCols = 4 * window.Cols

// blocksOf cuts tiles into blocks.
func blocksOf(g Grid, tiles []tile) (blocks []window.Block, starts []int) {
	for _, t := range tiles {
		starts = append(starts, len(blocks))
		for strip := 0; strip < t.cols; strip += stripCols {
			for r := 0; r < t.rows; r += window.Rows {
				for c := strip; c < min(strip+stripCols, t.cols); c += window.Cols {
					blocks = append(blocks, window.Block{
						First: t.index(g, r) + c,
						Rows:  uint8(min(window.Rows, t.rows-r)),
						Cols:  uint8(min(window.Cols, t.cols-c)),
					})
				}
			}
		}
	}
	return blocks, append(starts, len(blocks))
}

// planeOf returns the distance in samples from the real parts of a trace to its imaginary parts.
// It is an odd number of cache lines, so that traces do not compete for the same sets of the
// cache.
func planeOf[S window.Sample](samples int) int {
	var s S
	line := 64 / int(unsafe.Sizeof(s))
	lines := (samples + line - 1) / line
	return (lines | 1) * line
}

func (w *windowed[S]) bytes() (tables, frame int) {
	var s S
	return w.layout.Bytes(), w.at(len(w.plan.traces)) * int(unsafe.Sizeof(s))
}

func (w *windowed[S]) reads(i int) (from, to int) { return w.ranges[i].From, w.ranges[i].To }

// at returns where trace i begins in the packed traces. All layers of a trace stand together.
func (w *windowed[S]) at(i int) int { return w.layers.Planes() * w.layers.Plane * i }

func (w *windowed[S]) newFrames() []frame {
	all := w.layers
	all.Data = make([]S, w.at(len(w.plan.traces)))
	frames := make([]frame, w.plan.layers())
	for i := range frames {
		frames[i] = w.frame(w, all, i)
	}
	return frames
}

// packed holds the traces of one layer.
type packed[S window.Sample] struct {
	traces window.Traces[S]
	stride int            // samples from a trace to the next
	ranges []window.Range // of each trace, what is packed: what the images read
}

// frame32 is a frame in single precision.
type frame32 struct {
	packed[float32]
	interleaved bool // the real and imaginary parts of a trace alternate
}

// newFrame32 returns the frame of a layer. Only the first layer needs single precision.
func newFrame32(w *windowed[float32], all window.Traces[float32], layer int) frame {
	if all.Narrow && layer > 0 {
		return newFrame16Of(w, packed[int16]{window.NarrowLayer(all, layer), 2 * w.at(1), w.ranges}, layer)
	}
	all.Data = all.Data[2*all.Plane*layer:]
	return &frame32{packed[float32]{all, w.at(1), slices.Clone(w.ranges)}, w.layout.Interleaved}
}

func (w *windowed[S]) join(f frame) bool {
	single, ok := f.(*frame32)
	if !ok || w.plan.layers() > 1 || single.interleaved != w.layout.Interleaved || single.stride != w.at(1) {
		return false
	}
	single.widen(w.ranges)
	return true
}

// widen makes p hold what another image reads too.
func (p *packed[S]) widen(ranges []window.Range) {
	for i, r := range ranges {
		reads := union([2]int{r.From, r.To}, [2]int{p.ranges[i].From, p.ranges[i].To})
		p.ranges[i] = window.Range{From: reads[0], To: reads[1]}
	}
}

func (f *frame32) pack(i int, re, im []float32, _ float32) {
	r, to := f.ranges[i], f.traces.Data[f.stride*i:]
	re, im = re[r.From:r.To], im[r.From:r.To]
	if f.interleaved {
		interleave(to[2*r.From:2*r.To], re, im)
		return
	}
	copy(to[r.From:], re)
	copy(to[f.traces.Plane+r.From:], im)
}

// interleave writes each element of re, and the element of im behind it, to dst.
func interleave(dst, re, im []float32) {
	im, dst = im[:len(re)], dst[:2*len(re)]
	for k, v := range re {
		dst[2*k], dst[2*k+1] = v, im[k]
	}
}

func (f *frame32) target(i int) planes {
	if f.interleaved {
		return planes{}
	}
	at, plane := f.stride*i, f.traces.Plane
	return planes{f.traces.Data[at : at+plane], f.traces.Data[at+plane : at+2*plane]}
}

func (f *frame32) needsLevel() bool { return false }

func (f *frame32) level(int) {}

func (f *frame32) step() float64 { return 0 }

func (f *frame32) scale() float32 { return 1 }

// frame16 is a frame in 16 bits. A trace is packed at the scale of its own peak. It is brought to
// the common scale when the peaks of all traces are known. The peaks are of samples that images
// read: what else lies between them may overflow.
type frame16 struct {
	packed[int16]
	format window.Format
	peaks  []float32 // of each trace
	peak   float32   // of all
	unit   float32   // what the sum of a pixel is to be multiplied by

	readers []*reader // the images that read the frame
	own     *reader   // the image that the frame was made for
}

// reader is an image that reads a frame in 16 bits.
type reader struct {
	ranges []window.Range // of each trace, what the image reads
	peaks  []float32      // of each trace, of what the image reads
}

// note notes and returns the peak of trace i.
func (r *reader) note(i int, re, im []float32) float32 {
	from, to := r.ranges[i].From, r.ranges[i].To
	r.peaks[i] = max(vector.Peak(re[from:to]), vector.Peak(im[from:to]))
	return r.peaks[i]
}

// clearReaders makes f a frame that no image reads.
func (f *frame16) clearReaders() {
	f.readers = f.readers[:0]
	clear(f.ranges)
}

// addReader makes r a reader of f.
func (f *frame16) addReader(r *reader) {
	f.readers = append(f.readers, r)
	f.widen(r.ranges)
}

// newFrame16 returns the frame of a layer.
func newFrame16(w *windowed[int16], all window.Traces[int16], layer int) frame {
	all.Data = all.Data[2*all.Plane*layer:]
	return newFrame16Of(w, packed[int16]{all, w.at(1), w.ranges}, layer)
}

func newFrame16Of[S window.Sample](w *windowed[S], traces packed[int16], layer int) frame {
	n := len(traces.ranges)
	f := &frame16{
		packed: traces,
		format: w.layout.Format,
		peaks:  make([]float32, n),
		own:    &reader{traces.ranges, make([]float32, n)},
	}
	f.ranges = make([]window.Range, n)
	f.addReader(f.own)
	if layer > 0 && w.plan.coherence.measure == CoherenceFactor {
		return &wideFrame16{f}
	}
	return f
}

// ints returns what the image reads of trace i.
func (f *frame16) ints(i int) (re, im window.Ints) {
	r, plane := f.ranges[i], f.traces.Plane
	all := f.traces.Data[f.stride*i:]
	return f.format.NewInts(all, plane, r), f.format.NewInts(all[plane:], plane, r)
}

// fullScale is the largest magnitude of a packed sample.
const fullScale = math.MaxInt16

func (f *frame16) pack(i int, re, im []float32, peak float32) {
	if peak == 0 {
		for _, r := range f.readers {
			peak = max(peak, r.note(i, re, im))
		}
	}
	r := f.ranges[i]
	re, im = re[r.From:r.To], im[r.From:r.To]
	scale := fullScale / peak
	if math.IsInf(float64(scale), 0) {
		peak, scale = 0, 0 // nothing, or next to it
	}
	f.peaks[i] = peak
	toRe, toIm := f.ints(i)
	toRe.Pack(re, scale)
	toIm.Pack(im, scale)
}

func (f *frame16) target(int) planes { return planes{} }

func (f *frame16) needsLevel() bool {
	f.peak = 0
	for _, p := range f.peaks {
		f.peak = max(f.peak, p)
	}
	f.unit = f.peak / fullScale / float32(int(1)<<window.Format16.Fraction)
	return true
}

func (f *frame16) step() float64 { return float64(f.peak) / fullScale }

func (f *frame16) level(i int) {
	if f.peaks[i] == f.peak {
		return
	}
	share := f.peaks[i] / f.peak
	re, im := f.ints(i)
	re.Scale(share)
	im.Scale(share)
}

func (f *frame16) scale() float32 { return f.unit }

// layer is a frame of a window kernel.
type layer interface {
	// scale returns the factor from the sum of a pixel to its value.
	scale() float32
}

// packedTraces is the frame of the first layer.
type packedTraces[S window.Sample] interface{ all() window.Traces[S] }

// all returns the traces of p and of the layers behind it.
func (p *packed[S]) all() window.Traces[S] { return p.traces }

// windowedAdder sums tiles.
type windowedAdder[S window.Sample] struct {
	*windowed[S]
	window.Adder[S]
	frames []frame // of each layer, for the frame in hand
	memory *tileMemory
	chunks []*window.Chunk // to sum
}

func (w *windowed[S]) newAdder(frames []frame, memory *tileMemory) adder {
	most := 0
	for i := range w.blocks[1:] {
		most = max(most, w.blocks[i+1]-w.blocks[i])
	}
	traces := frames[0].(packedTraces[S]).all()
	traces.More = len(frames) - 1
	traces.Narrow = w.layers.Narrow && traces.More > 0
	a := &windowedAdder[S]{
		windowed: w,
		Adder:    window.NewAdder(w.kernel, w.layout, traces),
		frames:   frames,
		memory:   memory,
		chunks:   w.chunks,
	}
	memory.acc = resized(memory.acc, max(len(memory.acc), len(frames)*2*window.Pixels*most))
	memory.values = resized(memory.values, max(len(memory.values), window.Pixels*most))
	return a
}

// unit returns the factor of layer k in the frame in hand.
func (a *windowedAdder[S]) unit(k int) float32 { return a.frames[k].(layer).scale() }

func (a *windowedAdder[S]) only(tx int) { a.chunks = a.events[tx] }

// add returns the sums of the blocks of tile i, of one layer after the other.
func (a *windowedAdder[S]) add(i int) []float32 {
	first, last := a.blocks[i], a.blocks[i+1]
	a.Traces.Data = a.frames[0].(packedTraces[S]).all().Data
	acc := a.memory.acc[:len(a.frames)*2*window.Pixels*(last-first)]
	clear(acc)
	for n, c := range a.chunks {
		if n+1 < len(a.chunks) {
			a.Prefetch(i, a.chunks[n+1])
		}
		a.Sum(acc, first, last, c)
	}
	return acc
}

func (a *windowedAdder[S]) sum(dst [][]complex64, i int) {
	first, last := a.blocks[i], a.blocks[i+1]
	acc := a.add(i)
	for k := range a.frames {
		unit := a.unit(k)
		for b := first; b < last; b++ {
			a.Write(dst[k], a.plan.grid.Cols, b, acc, unit)
			acc = acc[2*window.Pixels:]
		}
	}
}
