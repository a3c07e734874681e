// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import "math"

// Extents are kept for quarters of a block. A quarter has consecutive pixels, and lies in each window
// of a format as a whole.
const (
	quarters = 4
	quarter  = Pixels / quarters
)

// extent holds the least and the greatest delay in each quarter. In a quarter without a ray the
// first is above the last.
type extent struct{ first, last [quarters]int64 }

// of returns the extent of n quarters from quarter q on.
func (x *extent) of(q, n int) (first, last int64) {
	first, last = x.first[q], x.last[q]
	for k := q + 1; k < q+n; k++ {
		first, last = min(first, x.first[k]), max(last, x.last[k])
	}
	return first, last
}

// delays holds the delays of one path in one block in fixed point. It is scratch of one goroutine.
type delays struct {
	path        *Path
	cols        int // of the grid
	format      Format
	parts       int // of the format
	scale       float64
	reach       float64         // largest delay in fixed point
	fixed       [][Pixels]int64 // of each element; none without a ray
	extents     []extent        // of each element
	rays        int             // number of delays that are not none
	first, last int64           // least and greatest delay
	// spread is the largest offset of any element for each window of the format. An offset is measured
	// from the whole number of samples below the first delay of the pixels that share the window.
	spread [maxWindows]int64
}

// none is the fixed-point delay where there is no ray.
const none = math.MinInt64

func newDelays(p *Path, cols int, f Format) *delays {
	unit := float64(int64(1) << f.Fraction)
	return &delays{
		path:    p,
		cols:    cols,
		format:  f,
		parts:   f.parts(),
		scale:   p.Rate * unit,
		reach:   p.Reach * unit,
		fixed:   make([][Pixels]int64, p.Elements),
		extents: make([]extent, p.Elements),
	}
}

// read sets d to the delays in b.
func (d *delays) read(b *Block) {
	d.rays, d.first, d.last, d.spread = 0, math.MaxInt64, math.MinInt64, [maxWindows]int64{}
	for e := range d.fixed {
		seconds, stride := d.path.Seconds[e*d.path.Points+b.First:], d.cols
		if b.Rows < Rows || b.Cols < Cols {
			all := b.extended(seconds, stride)
			seconds, stride = all[:], Cols
		}
		d.rays += d.convert(&d.fixed[e], &d.extents[e], seconds, stride)
		d.measure(&d.extents[e])
	}
}

// extended returns the times of a block at the edge of the image, row after row. Pixels beyond the
// image repeat the last pixels in the image.
func (b *Block) extended(seconds []float32, stride int) (all [Pixels]float32) {
	for i := range all {
		row, col := min(i/Cols, int(b.Rows)-1), min(i%Cols, int(b.Cols)-1)
		all[i] = seconds[row*stride+col]
	}
	return all
}

// convert sets the delays of a block, and their extent, from the times of its pixels. The rows of
// times are stride apart. It returns the number of rays.
func (d *delays) convert(fixed *[Pixels]int64, x *extent, seconds []float32, stride int) (rays int) {
	for q := range quarters {
		first, last := int64(math.MaxInt64), int64(math.MinInt64)
		to := fixed[q*quarter:][:quarter]
		for r := range 2 {
			row := seconds[(q%2*2+r)*stride+q/2*4:][:4]
			for i, s := range row {
				v := int64(none)
				if delay := (float64(s) - d.path.Offset) * d.scale; math.Abs(delay) <= d.reach {
					v = int64(math.RoundToEven(delay))
					first, last = min(first, v), max(last, v)
					rays++
				}
				to[r*4+i] = v
			}
		}
		x.first[q], x.last[q] = first, last
	}
	return rays
}

// measure adds the extent of an element to the measures of the block.
func (d *delays) measure(x *extent) {
	first, last := x.of(0, quarters)
	if first > last {
		return
	}
	d.first, d.last = min(d.first, first), max(d.last, last)
	for i, w := range d.format.Windows {
		n := w.Pixels / quarter
		for q := 0; q < quarters; q += n {
			if first, last := x.of(q, n); first <= last {
				d.spread[i] = max(d.spread[i], last-d.wholeBelow(first))
			}
		}
	}
}

// wholeBelow returns v rounded down to whole samples.
func (d *delays) wholeBelow(v int64) int64 { return v &^ (1<<d.format.Fraction - 1) }

// bound sets the bounds of each element in block b of the given number of blocks.
func (d *delays) bound(to bounds, b, blocks int, empty bool) {
	for e := range d.extents {
		i := e*blocks + b
		to.first[i], to.last[i] = math.MaxInt32, math.MinInt32
		if first, last := d.extents[e].of(0, quarters); first <= last && !empty {
			to.first[i], to.last[i] = int32(first>>d.format.Fraction), int32(last>>d.format.Fraction)
		}
	}
}

// write sets the bases and offsets of block b, in which shared pixels share a window.
func (t *Table) write(b int, d *delays, shared int) {
	n := shared / quarter
	for e := range d.fixed {
		at := b*t.Elements + e
		bases := t.Bases[at*d.parts:][:d.parts]
		var below [quarters]int64 // the delay at the base of each quarter
		for q := 0; q < quarters; q += n {
			first, _ := d.extents[e].of(q, n)
			for k := q; k < q+n; k++ {
				below[k] = d.wholeBelow(first)
				bases[k*d.parts/quarters] = int32(first >> d.format.Fraction)
			}
		}
		switch {
		case !d.format.Narrow:
			writeOffsets((*[Pixels]uint32)(t.Wide[at*Pixels:]), &d.fixed[e], &below)
		case d.format.Bytes:
			writeOffsets((*[Pixels]uint16)(t.Narrow[at*Pixels:]), &d.fixed[e], &below)
		default:
			writeRows((*[Pixels]uint16)(t.Narrow[at*Pixels:]), &d.fixed[e], &below)
		}
	}
}

// writeOffsets writes offsets in the order of the pixels.
func writeOffsets[T uint16 | uint32](dst *[Pixels]T, fixed *[Pixels]int64, below *[quarters]int64) {
	for q, v := range below {
		for i := q * quarter; i < (q+1)*quarter; i++ {
			dst[i] = T(fixed[i] - v)
		}
	}
}

// writeRows writes offsets row after row.
func writeRows(dst *[Pixels]uint16, fixed *[Pixels]int64, below *[quarters]int64) {
	for q, v := range below {
		for i := q * quarter; i < (q+1)*quarter; i++ {
			dst[rowMajor(i)] = uint16(fixed[i] - v)
		}
	}
}

// whole returns the whole delays of a General block.
func (d *delays) whole() []int32 {
	whole := make([]int32, 0, len(d.fixed)*Pixels)
	for e := range d.fixed {
		for _, v := range &d.fixed[e] {
			if v == none {
				whole = append(whole, outside)
			} else {
				whole = append(whole, int32(roundShift(v, d.format.Fraction-d.format.General)))
			}
		}
	}
	return whole
}

// roundShift returns v/2^n rounded to the nearest integer, halves up.
func roundShift(v int64, n uint) int64 {
	unit := int64(1) << n
	return (v + unit/2) >> n
}
