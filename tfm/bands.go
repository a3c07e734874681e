// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
	"github.com/isochron-imaging/isochron/wedge"
)

// Bands images grids that are too large for one plan. It images one band of rows after the other.
// Each band has its own tables, which are freed before the next tables are made. Bands is
// immutable and safe for concurrent use. Each call has its own memory.
//
// The tables take most of the time, so frames should be imaged together. An image in [Single] has
// the same bits as the image of one plan of the whole grid. With [Fixed16] each band has its own
// scale. The states are the states of one plan, except that [CoarseGrid] ignores the step to the
// next band if a band is a single row or a single slice.
type Bands struct {
	grid     Grid
	capture  *fmc.Capture // without samples
	timer    Timer
	options  Options
	analytic *Analytic
	bands    []band
}

// band is a part of a grid: rows of one slice, or whole slices.
type band struct {
	grid  Grid // of the band; only its numbers of pixels count
	first int  // the index of its first pixel in the whole grid
}

// NewBands prepares images over g of captures like c, as [NewPlan] does. The timer makes the
// tables of the points of each band ([NewTimer]).
//
// The memory in use at any time stays within limit bytes. The limit counts tables, plans,
// scratches and garbage, but not captures and images. Garbage is collected before each band. The
// memory depends on [Options.Workers], where 0 stands for the present value of runtime.GOMAXPROCS.
// The timer must use no memory beyond the tables that it returns.
//
// A limit that is too small for a band of four rows is an error. The error names the smallest
// limit.
func NewBands(c *fmc.Capture, g Grid, timer Timer, limit int, options *Options) (*Bands, error) {
	if c == nil || timer == nil {
		return nil, errors.New("tfm: bands without a capture, or without a function that makes tables of times")
	}
	options, analytic, err := options.prepare(c, g)
	if err != nil {
		return nil, err
	}
	if options.Compound != nil {
		return nil, errors.New("tfm: compounding in bands: want a plan of the whole grid")
	}
	b := &Bands{grid: g, capture: templateOf(c), timer: timer, options: *options, analytic: analytic}
	if err := b.cut(limit); err != nil {
		return nil, err
	}
	return b, nil
}

// cut cuts the grid into bands. Each band consists of whole blocks of pixels of the grid, except
// the last band of a slice.
func (b *Bands) cut(limit int) error {
	g := b.grid
	fixed, row := b.bytes()
	rows := max(0, limit-fixed) / row
	rows -= rows % window.Rows
	if rows == 0 {
		return fmt.Errorf("tfm: memory limit of %d bytes: want at least %d, for %d rows of the grid", limit, fixed+window.Rows*row, window.Rows)
	}
	part := g
	if whole := rows / roundUp(g.Rows, window.Rows); whole > 0 {
		for s := 0; s < g.Slices; s += whole {
			part.Slices = min(whole, g.Slices-s)
			b.bands = append(b.bands, band{part, s * g.Rows * g.Cols})
		}
		return nil
	}
	part.Slices = 1
	for s := range g.Slices {
		for r := 0; r < g.Rows; r += rows {
			part.Rows = min(rows, g.Rows-r)
			b.bands = append(b.bands, band{part, (s*g.Rows + r) * g.Cols})
		}
	}
	return nil
}

// bytes returns the most memory that a plan takes: a fixed part, and a part for each row.
func (b *Bands) bytes() (fixed, row int) {
	c, passes := b.capture, b.options.Coherence.passes()
	fixed = b.sampleBytes() * (1 + passes) * (len(c.Pairs) + 1) * (c.Samples + 256) // of packed traces
	// The filter, and the scratch of each core. A scratch holds the memory of the transforms and
	// of a trace, and the sums of a tile.
	const filter, scratch, sums = 48, 120, 24
	workers := parallel.Workers(b.options.Workers, math.MaxInt)
	fixed += filter*b.analytic.length + workers*(scratch*(b.analytic.length+directBlock)+sums*tileRows*wideCols)
	if b.options.FullScale != 0 {
		fixed += len(c.Pairs) * (c.Samples/8 + 16)
	}
	// Tables of times, and delays: bases, offsets, and whole delays where no window holds them.
	const times, delays = 4, 1 + 4 + 4
	const point, image, state = 24, 8, 2
	pixel := point + image + state
	if passes > 0 {
		const sum, count, coherence = 8, 4, 4
		pixel += sum*passes + count + coherence
	}
	rows := c.Transmissions() + len(c.Array.Elements) // of both tables
	// While a plan is made, each worker holds the delays of a block.
	const block = 512
	fixed += workers * rows * block
	row = rows*(times*b.grid.Cols+delays*roundUp(b.grid.Cols, window.Cols)) + pixel*b.grid.Cols
	return fixed, row
}

// sampleBytes returns the memory of a sample in packed traces. Plain Go holds two neighbours
// together.
func (b *Bands) sampleBytes() int {
	switch {
	case cmp.Or(b.options.kernel, kernelNames()[0]) == "portable":
		return 16
	case b.options.Precision == Fixed16:
		return 4
	}
	return 8
}

// roundUp returns the least multiple of unit that is not below n.
func roundUp(n, unit int) int { return (n + unit - 1) / unit * unit }

// Images returns the images of frames. A frame of other elements, events, pairs or times than the
// capture that b was made for is an error. When ctx ends early, its error is returned.
func (b *Bands) Images(ctx context.Context, frames ...*fmc.Capture) ([]*Image, error) {
	images := make([]*Image, len(frames))
	for i, f := range frames {
		if f == nil {
			return nil, fmt.Errorf("tfm: frame %d is nil: want a capture", i)
		}
		if err := checkFrame(b.capture, f); err != nil {
			return nil, fmt.Errorf("%w (frame %d)", err, i)
		}
		images[i] = NewImage(b.grid)
	}
	points := make([]r3.Vec, 0, b.longest())
	for i := range b.bands {
		if i > 0 {
			// The tables of the last band are garbage, as large as the tables of the next band.
			// Without this call the garbage may grow as large as the whole heap. Tables and
			// samples hold no pointers, so the collection takes less than a millisecond.
			runtime.GC()
		}
		if err := b.image(ctx, i, points, images, frames); err != nil {
			return nil, err
		}
	}
	return images, nil
}

// longest returns the number of pixels of the longest band.
func (b *Bands) longest() int {
	n := 0
	for _, part := range b.bands {
		n = max(n, part.grid.Len())
	}
	return n
}

// image fills band i of images. It keeps the pixels of the band in the memory of points.
func (b *Bands) image(ctx context.Context, i int, points []r3.Vec, images []*Image, frames []*fmc.Capture) error {
	part := b.bands[i]
	points = points[:part.grid.Len()]
	for p := range points {
		points[p] = b.grid.Point(part.first + p)
	}
	transmit, receive, err := b.timer(ctx, points)
	if err != nil {
		return err
	}
	places := wedge.PlacesOf(slices.Values(points))
	if err := checkTables(b.capture, places, transmit, receive); err != nil {
		return err
	}
	if unreachable(transmit) || unreachable(receive) {
		for _, image := range images { // zeros stand for the amplitudes
			for p := range points {
				image.mark(part.first+p, NoRay|Blank)
			}
		}
		return nil
	}
	options := b.options
	options.Progress = nil
	plan, err := newPlan(ctx, b.capture, part.grid, places, b.analytic, transmit, receive, &options)
	if err != nil {
		return err
	}
	scratch := plan.NewScratch()
	for f, frame := range frames {
		dst := &Image{Grid: part.grid, Data: images[f].Data[part.first:][:len(points)]}
		if err := scratch.Reconstruct(ctx, dst, frame.Data); err != nil {
			return err
		}
		if dst.Coherence != nil {
			images[f].Coherence = resized(images[f].Coherence, len(images[f].Data))
			copy(images[f].Coherence[part.first:], dst.Coherence)
		}
		for p, state := range dst.States {
			images[f].mark(part.first+p, state)
		}
		if b.options.Progress != nil {
			done := float64(part.first) + float64(f+1)/float64(len(frames))*float64(len(points))
			b.options.Progress(done / float64(b.grid.Len()))
		}
	}
	return nil
}
