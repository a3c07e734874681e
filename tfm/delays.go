// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm/internal/portable"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
	"github.com/isochron-imaging/isochron/wedge"
)

// A tile is a small block of pixels of one slice. Neighbouring pixels have neighbouring delays, so
// a tile reads a short piece of every trace. For each chunk of lookups a worker reads the delays of
// its elements in the tile, and the pieces of its traces. They stay in the second-level cache. An
// image of 256 × 256 pixels has 16 tiles, for up to 16 cores. TestTileRemainders tests images whose
// sizes are not multiples of a tile.
const (
	tileRows = 64
	tileCols = 64
	// wideCols is the width of tiles where the traces do not fit into the cache ([Plan.tileCols]).
	wideCols = 2 * tileCols
)

// tileCols returns the width of the tiles of p.
//
// Traces beyond the second-level cache are read again for each tile, so fewer tiles read less. A
// tile of 64 × 128 pixels needs two thirds of the lines of the traces that two tiles of 64 × 64
// need. In 16 bits the delays of 16 receivers then take 295 KB, which the second-level cache holds.
// In single precision they would take twice as much. Each worker needs some tiles, or workers wait
// for the last tile. Images do not depend on the width, except in plain Go, where delays count from
// a base for each tile.
func (p *Plan) tileCols() int {
	const large, some = 16 << 20, 4 // bytes; tiles
	traces := 4 * p.samples * len(p.pairs)
	workers := parallel.Workers(p.workers, math.MaxInt)
	if p.precision == Fixed16 && p.name != "portable" && traces > large && len(tiles(p.grid, wideCols)) >= some*workers {
		return wideCols
	}
	return tileCols
}

// tile is a block of the image.
type tile struct {
	slice, row, col int // the first pixel
	rows, cols      int
	start           int // the index of its first pixel in tile order
}

// len returns the number of pixels.
func (t tile) len() int { return t.rows * t.cols }

// tiles cuts a grid into tiles of the given width. The tiles at the far edges are smaller.
func tiles(g Grid, width int) []tile {
	var all []tile
	start := 0
	for s := range g.Slices {
		for r := 0; r < g.Rows; r += tileRows {
			for c := 0; c < g.Cols; c += width {
				t := tile{s, r, c, min(tileRows, g.Rows-r), min(width, g.Cols-c), start}
				start += t.len()
				all = append(all, t)
			}
		}
	}
	return all
}

// index returns the index in g of the first pixel of row r of t.
func (t tile) index(g Grid, r int) int {
	return (t.slice*g.Rows+t.row+r)*g.Cols + t.col
}

// delays holds, for one path, the delay from each element to each pixel in samples, in fixed
// point. The order is the order in which the kernel reads: tile after tile, element after element,
// pixel after pixel.
type delays struct {
	elements int
	data     []int32
	bases    []base // of element e in tile i at i*elements + e, where delays count from bases
}

// base is the whole number of samples from which the delays of an element in a tile count, with
// [portable.FractionBits]. The last delay counts from it too.
type base struct{ sample, last int32 }

// outside is the delay where there is no ray, or where the record has ended. The sum of outside
// and any delay, also outside, is negative and does not overflow.
const outside = math.MinInt32 / 2

// fractionBits returns the largest number of fraction bits for which the sum of two delays does
// not overflow, if each delay lies within ±reach samples.
func fractionBits(reach float64) (uint, error) {
	// 20 bits resolve a millionth of a sample. With 7 bits the rounding error is a 256th of a
	// sample, which is 0.002 rad at 10 samples a period. Fewer bits would be too coarse.
	const most, least = 20, 7
	n := 30 - bits.Len64(uint64(min(reach, 1<<40)))
	if n < least {
		return 0, fmt.Errorf("tfm: record that ends %.0f samples from time 0: want at most %d", reach, 1<<(30-least)-1)
	}
	return uint(min(n, most)), nil
}

// timeAxis turns times of flight along one path into samples.
type timeAxis struct {
	sampleRate float64 // Hz
	// half of the time of the first sample (s), so that the sum of two delays
	// counts from it
	offset   float64
	reach    float64 // delays beyond ±reach samples count as none
	fraction uint    // bits that whole delays in 32 bits can have
	tables   pathTables
}

// pathTables holds the tables of paths that several plans share.
type pathTables map[pathDelays]*window.Tables

// pathDelays tells the delays of one path from others.
type pathDelays struct {
	times                     *wedge.Times
	sampleRate, offset, reach float64
}

// of returns the tables of times on axis a, and nil if t is nil, where nothing is shared.
func (t pathTables) of(times *wedge.Times, a timeAxis) *window.Tables {
	if t == nil {
		return nil
	}
	key := pathDelays{times, a.sampleRate, a.offset, a.reach}
	if t[key] == nil {
		t[key] = new(window.Tables)
	}
	return t[key]
}

// samples returns a time of flight in samples.
func (a timeAxis) samples(seconds float32) float64 {
	return (float64(seconds) - a.offset) * a.sampleRate
}

// newDelays converts times to samples. The rounding error of the sum of two delays is at most
// 2^-fraction of a sample.
func newDelays(times *wedge.Times, g Grid, tiles []tile, axis timeAxis) *delays {
	d := &delays{elements: times.Elements, data: make([]int32, len(times.Seconds))}
	unit := float64(int64(1) << axis.fraction)
	i := 0
	for _, t := range tiles {
		for e := range times.Elements {
			for r := range t.rows {
				from := e*times.Points + t.index(g, r)
				for _, seconds := range times.Seconds[from : from+t.cols] {
					samples := axis.samples(seconds)
					d.data[i] = outside
					if math.Abs(samples) <= axis.reach {
						d.data[i] = int32(math.Round(samples * unit))
					}
					i++
				}
			}
		}
	}
	return d
}

// spreads returns for each tile the largest number of samples over which the delays of an element
// spread. It is large where a ray is missing.
func (d *delays) spreads(tiles []tile, fraction uint) []int64 {
	spreads := make([]int64, len(tiles))
	for i, t := range tiles {
		for e := range d.elements {
			first, last := int64(math.MaxInt32), int64(math.MinInt32)
			for _, v := range d.of(t, e) {
				first, last = min(first, int64(v)), max(last, int64(v))
				if v == outside {
					first = math.MinInt32 << 20
				}
			}
			spreads[i] = max(spreads[i], (last-first)>>fraction+3) // rounding, and the base
		}
	}
	return spreads
}

// count makes the delays of the chosen tiles count from bases.
func (d *delays) count(times *wedge.Times, g Grid, tiles []tile, chosen []bool, axis timeAxis) {
	const unit = 1 << portable.FractionBits
	d.bases = make([]base, len(tiles)*d.elements)
	for i, t := range tiles {
		if !chosen[i] {
			continue
		}
		for e := range d.elements {
			data, b := d.of(t, e), &d.bases[i*d.elements+e]
			// A delay may have been rounded up to a whole number of samples.
			b.sample = (slices.Min(data) - 1) >> axis.fraction
			for k := range data {
				seconds := times.Seconds[e*times.Points+t.index(g, k/t.cols)+k%t.cols]
				data[k] = int32(math.Round((axis.samples(seconds) - float64(b.sample)) * unit))
				b.last = max(b.last, data[k])
			}
		}
	}
}

// bytes returns the memory of d in bytes.
func (d *delays) bytes() int { return 4*len(d.data) + 8*len(d.bases) }

// path returns the delays of times for package window.
func (a timeAxis) path(times *wedge.Times) *window.Path {
	return &window.Path{
		Elements: times.Elements,
		Points:   times.Points,
		Seconds:  times.Seconds,
		Offset:   a.offset,
		Rate:     a.sampleRate,
		Reach:    a.reach,
		Tables:   a.tables.of(times, a),
	}
}

// of returns the delays of element e to the pixels of t.
func (d *delays) of(t tile, e int) []int32 {
	n := t.len()
	from := t.start*d.elements + e*n
	return d.data[from : from+n]
}

// extents returns the first and the last delay of every tile and element. If there is no delay,
// first and last are such that their sum with any other extent is an empty range.
func (d *delays) extents(tiles []tile) [][2]int64 {
	extents := make([][2]int64, 0, len(tiles)*d.elements)
	for _, t := range tiles {
		for e := range d.elements {
			extent := [2]int64{1 << 40, -1 << 40}
			for _, v := range d.of(t, e) {
				if v != outside {
					extent[0], extent[1] = min(extent[0], int64(v)), max(extent[1], int64(v))
				}
			}
			extents = append(extents, extent)
		}
	}
	return extents
}
