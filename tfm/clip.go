// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"math/bits"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/wedge"
)

// clipping is what a plan needs to find the pixels that read clipped samples.
type clipping struct {
	fullScale   float32
	tx, rx      *wedge.Times
	first, rate float64
	// spread is how far, in samples, the filter spreads a clipped sample: the half-width of
	// the main lobe of its impulse response, 1/(High - Low).
	spread int
	words  int // of the marks of a trace
	// sent and received hold the range of the times of each tile and row of a table. The range of
	// tile i and row e is at i*rows + e.
	sent, received [][2]float32
}

func newClipping(p *Plan, c *fmc.Capture, fullScale float32, band Band, tx, rx *wedge.Times) *clipping {
	k := &clipping{
		fullScale: fullScale,
		tx:        tx,
		rx:        rx,
		first:     c.FirstSample,
		rate:      c.SampleRate,
		spread:    int(math.Ceil(min(c.SampleRate/(band.High-band.Low), float64(c.Samples)))),
		words:     (c.Samples + 63) / 64,
		sent:      tileRanges(tx, p.grid, p.tiles),
	}
	k.received = k.sent
	if rx != tx {
		k.received = tileRanges(rx, p.grid, p.tiles)
	}
	return k
}

// bytes returns the memory in bytes of the tables, and of the marks of a frame of the given number
// of traces.
func (k *clipping) bytes(traces int) (tables, frame int) {
	const seconds, span, mark, word = 4, 8, 1, 8
	tables = seconds*len(k.tx.Seconds) + span*len(k.sent)
	if k.rx != k.tx {
		tables += seconds*len(k.rx.Seconds) + span*len(k.received)
	}
	return tables, traces * (mark + word*k.words)
}

// tileRanges returns the first and the last time of each tile and row of t.
func tileRanges(t *wedge.Times, g Grid, tiles []tile) [][2]float32 {
	ranges := make([][2]float32, 0, len(tiles)*t.Elements)
	for _, tile := range tiles {
		for e := range t.Elements {
			span := [2]float32{math.MaxFloat32, -math.MaxFloat32}
			for r := range tile.rows {
				for _, v := range t.Seconds[e*t.Points+tile.index(g, r):][:tile.cols] {
					if v < span[0] {
						span[0] = v
					}
					if v > span[1] {
						span[1] = v
					}
				}
			}
			ranges = append(ranges, span)
		}
	}
	return ranges
}

// clipMarks tells which samples of the analytic signals of a frame come from clipped samples.
type clipMarks struct {
	*clipping
	found []bool   // of each trace, whether a sample of it is marked
	marks []uint64 // a bit a sample, words for each trace
}

func newClipMarks(k *clipping, traces int) *clipMarks {
	return &clipMarks{k, make([]bool, traces), make([]uint64, traces*k.words)}
}

// of returns the marks of trace i.
func (m *clipMarks) of(i int) []uint64 { return m.marks[i*m.words : (i+1)*m.words] }

// any reports whether a trace is marked.
func (m *clipMarks) any() bool {
	for _, found := range m.found {
		if found {
			return true
		}
	}
	return false
}

// findClipped looks for clipped samples in source i, for all views that want it. It writes to
// w.total, which all views have packed.
func (w *worker) findClipped(i int) {
	for _, v := range w.views {
		if v.clipped == nil {
			continue
		}
		traces, count := v.traces(i, w.sources[i])
		for _, trace := range traces[:count] {
			w.findClippedOf(v, trace)
		}
	}
}

// findClippedOf marks the samples that the clipped samples of trace i of v reach through the
// filter.
func (w *worker) findClippedOf(v *viewScratch, i int) {
	m, n := v.clipped, w.plan.samples
	if m.found[i] {
		clear(m.of(i))
		m.found[i] = false
	}
	t := v.plan.traces[i]
	for _, term := range t.terms[:t.count] {
		if term.weight == 0 {
			continue
		}
		samples := w.total.re[:n]
		if w.int16s != nil {
			clear(samples)
			vector.AddInt16(samples, w.int16s[term.pair*n:(term.pair+1)*n], 1)
		} else {
			samples = w.float32s[term.pair*n : (term.pair+1)*n]
		}
		if vector.Peak(samples) < m.fullScale {
			continue
		}
		m.found[i] = true
		marks := m.of(i)
		for k, v := range samples {
			if v >= m.fullScale || -v >= m.fullScale {
				// Interpolation reads two samples. The mark of the first sample stands for both.
				setBits(marks, max(0, k-m.spread-1), min(n, k+m.spread+1))
			}
		}
	}
}

// setBits sets the bits from to to-1.
func setBits(marks []uint64, from, to int) {
	for k := from; k < to; k++ {
		if k%64 == 0 && to-k >= 64 {
			marks[k/64] = math.MaxUint64
			k += 63
			continue
		}
		marks[k/64] |= 1 << (k % 64)
	}
}

// anyBit reports whether a bit from from to to-1 is set.
func anyBit(marks []uint64, from, to int) bool {
	for from < to {
		rest := marks[from/64] >> (from % 64)
		if rest != 0 {
			return from+bits.TrailingZeros64(rest) < to
		}
		from = (from/64 + 1) * 64
	}
	return false
}

// markClipped adds Clipped to the pixels of tile i that read a marked sample.
func (v *viewScratch) markClipped(i int) {
	m, t := v.clipped, v.plan.tiles[i]
	for _, l := range v.plan.lookups {
		if !m.found[l.trace] {
			continue
		}
		sent, received := m.sent[i*m.tx.Elements+l.tx], m.received[i*m.rx.Elements+l.rx]
		from, to := m.sample(sent[0], received[0]), m.sample(sent[1], received[1])
		last := float64(v.plan.samples - 1)
		if !(from < last && to >= 0 && anyBit(m.of(l.trace), int(max(from, 0)), int(min(to, last-1))+1)) {
			continue
		}
		v.markRows(t, l, last)
	}
}

// markRows adds Clipped to the pixels of t for which l reads a marked sample.
func (v *viewScratch) markRows(t tile, l lookup, last float64) {
	m := v.clipped
	marks := m.of(l.trace)
	for r := range t.rows {
		p := t.index(v.plan.grid, r)
		sent := m.tx.Seconds[l.tx*m.tx.Points+p:][:t.cols]
		received := m.rx.Seconds[l.rx*m.rx.Points+p:][:t.cols]
		states := v.dst.States[p:][:t.cols]
		for c := range states {
			at := m.sample(sent[c], received[c])
			if at >= 0 && at < last && marks[int(at)/64]>>(int(at)%64)&1 != 0 {
				states[c] |= Clipped
			}
		}
	}
}

// sample returns where the record is at the sum of two times, in samples.
func (k *clipping) sample(sent, received float32) float64 {
	return (float64(sent) + float64(received) - k.first) * k.rate
}
