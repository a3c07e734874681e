// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"math"
	"math/bits"
)

// delays holds the delays of one path in one block in fixed point. It is scratch of one goroutine.
type delays struct {
	conversion
	path        *Path
	cols        int // of the grid
	format      Format
	parts       int       // of the format
	edge        []float32 // the times of a block at an edge of the image
	missing     bool      // whether a ray is missing
	first, last int64     // least and greatest delay; without a ray the first is above the last
	// spread is the largest offset of any element for each window of the format. An offset is
	// measured from the whole number of samples below the first delay of the pixels that share the
	// window.
	spread [maxWindows]int64
}

func newDelays(p *Path, cols int, f Format) *delays {
	unit := float64(int64(1) << f.Fraction)
	return &delays{
		conversion: conversion{
			offset:  p.Offset,
			scale:   p.Rate * unit,
			reach:   p.Reach * unit,
			fixed:   make([][Pixels]int64, p.Elements),
			extents: make([]extent, p.Elements),
		},
		path:   p,
		cols:   cols,
		format: f,
		parts:  f.parts(),
	}
}

// read sets d to the delays in b.
func (d *delays) read(b *Block) {
	d.seconds, d.row, d.element = d.path.Seconds[b.First:], d.cols, d.path.Points
	if b.Rows < Rows || b.Cols < Cols {
		d.extend(b)
	}
	d.missing = d.convert()
	d.first, d.last, d.spread = beyond, -beyond, [maxWindows]int64{}
	for e := range d.extents {
		d.measure(&d.extents[e])
	}
}

// extend copies the times of a block at an edge of the image. Pixels beyond the image repeat the
// last pixels in the image.
func (d *delays) extend(b *Block) {
	d.edge = d.edge[:0]
	for e := range d.fixed {
		for i := range Pixels {
			row, col := min(i/Cols, int(b.Rows)-1), min(i%Cols, int(b.Cols)-1)
			d.edge = append(d.edge, d.seconds[e*d.element+row*d.row+col])
		}
	}
	d.seconds, d.row, d.element = d.edge, Cols, Pixels
}

// measure adds the extent of an element to the measures of the block.
func (d *delays) measure(x *extent) {
	x.join()
	if x.first[whole] > x.last[whole] {
		return
	}
	d.first, d.last = min(d.first, x.first[whole]), max(d.last, x.last[whole])
	for i, w := range d.format.Windows {
		at := partsOf(w.Pixels)
		for k := at; k < at+Pixels/w.Pixels; k++ {
			if x.first[k] <= x.last[k] {
				d.spread[i] = max(d.spread[i], x.last[k]-d.wholeBelow(x.first[k]))
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
		if x := &d.extents[e]; x.first[whole] <= x.last[whole] && !empty {
			to.first[i], to.last[i] = int32(x.first[whole]>>d.format.Fraction), int32(x.last[whole]>>d.format.Fraction)
		}
	}
}

// write sets the bases and offsets of block b, in which shared pixels share a base.
func (t *Table) write(b int, d *delays, shared int) {
	windows, log := partsOf(shared), bits.TrailingZeros(uint(shared/quarter))
	for e := range d.fixed {
		at := t.at(b, t.Slot(e))
		bases := t.Bases[at*d.parts:][:d.parts]
		var below [quarters]int64 // the delay at the base of each quarter
		for q := range quarters {
			first := d.extents[e].first[windows+q>>log]
			below[q] = d.wholeBelow(first)
			bases[q*d.parts/quarters] = int32(first >> d.format.Fraction)
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
