// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// chunk is the number of points of one task.
const chunk = 256

// Times returns the table of times of a mode from every element to every point
// (m), on all cores. All lie in one section of constant y. The table has no
// directions.
//
// Each time lies within the tolerance of that of the ray found, besides the
// rounding to float32. That is the ray of Options.Arrival: for QL and SH with Arrival
// 0 it is found by bending, and is the one of least time unless another's is less
// by under a part in 100, so little that the lattice cannot tell them apart; all
// others are found by shooting. An
// element from which no ray can start, or a coordinate that is not finite, is an
// error. A point that no ray reaches, as one outside the part, is not: its times
// are NaN, and counted in Missing. The table is the same, bit for bit, for any
// number of cores. When ctx ends early, its error is returned.
func (p *Part) Times(ctx context.Context, mode Mode, elements, points []r3.Vec, options *Options) (*wedge.Times, error) {
	o, err := p.check(mode, elements, points, options)
	if err != nil {
		return nil, err
	}
	prepare, err := p.prepare(ctx, mode, points, &o, elements[0].Y)
	if err != nil {
		return nil, err
	}
	w := newWriter(newPartPath(p, mode, o), elements, points, o.Workers, o.Progress)
	spread := parallel.Options{Workers: o.Workers}
	times := make([]func(int) float64, parallel.Workers(o.Workers, len(elements)))
	for first := 0; first < len(elements); first += len(times) {
		group := elements[first:min(first+len(times), len(elements))]
		err := parallel.Do(ctx, len(group), spread, func() func(int) error {
			return func(i int) error {
				times[i] = prepare(group[i])
				return nil
			}
		})
		if err != nil {
			return nil, err
		}
		err = w.fill(ctx, first, len(group), func(element, point int) float64 {
			return times[element-first](point)
		})
		if err != nil {
			return nil, err
		}
	}
	return w.finish(), nil
}

// prepare returns what prepares an element: a function that gives the time to each
// point.
func (p *Part) prepare(ctx context.Context, mode Mode, points []r3.Vec, o *Options, y float64) (func(element r3.Vec) func(point int) float64, error) {
	if o.shoots(mode) {
		index := newPointIndex(points, o.Region, o.Spacing)
		return func(element r3.Vec) func(int) float64 {
			a := newAim(p, mode, element, index, o)
			return func(point int) float64 {
				rays := a.fan.rays(a.candidates[point], points[point])
				if o.Arrival >= len(rays) {
					return math.NaN()
				}
				return rays[o.Arrival].time
			}
		}, nil
	}
	l, err := newLattice(ctx, p, mode, o.Region, o.Spacing, y, o.Workers)
	if err != nil {
		return nil, err
	}
	benders := sync.Pool{New: func() any { return newBender(p, mode) }}
	return func(element r3.Vec) func(int) float64 {
		f := newFront(l, element)
		return func(point int) float64 {
			b := benders.Get().(*bender)
			defer benders.Put(b)
			return b.ray(f, points[point], o.Tolerance).Time
		}
	}, nil
}

// partPath is the path of the tables of a part, as it was when they were made.
type partPath struct {
	part    Part
	mode    Mode
	options Options
}

func newPartPath(p *Part, mode Mode, o Options) partPath {
	part := *p
	part.Media, part.Faces = slices.Clone(p.Media), slices.Clone(p.Faces)
	o.Progress, o.Workers = nil, 0 // which change no time
	return partPath{part, mode, o}
}

// writer fills a table in tasks of a chunk of points for one element.
type writer struct {
	table    *wedge.Times
	points   []r3.Vec
	workers  int
	missing  atomic.Int64
	progress func(float64)
}

// newWriter returns a writer of an empty table. path is that of [wedge.MadeFor].
func newWriter(path any, elements, points []r3.Vec, workers int, progress func(float64)) *writer {
	table := &wedge.Times{
		Elements: len(elements),
		Points:   len(points),
		Seconds:  make([]float32, len(elements)*len(points)),
		MadeFor: wedge.MadeFor{
			Elements: wedge.PlacesOf(slices.Values(elements)),
			Points:   wedge.PlacesOf(slices.Values(points)),
			Path:     path,
		},
	}
	return &writer{table: table, points: points, workers: workers, progress: progress}
}

// fill writes the times of the n elements from first on.
func (w *writer) fill(ctx context.Context, first, n int, time func(element, point int) float64) error {
	chunks := (len(w.points) + chunk - 1) / chunk
	spread := parallel.Options{Workers: w.workers}
	if w.progress != nil {
		spread.Progress = func(share float64) {
			w.progress((float64(first) + share*float64(n)) / float64(w.table.Elements))
		}
	}
	return parallel.Do(ctx, n*chunks, spread, func() func(int) error {
		return func(task int) error {
			element, from := first+task/chunks, task%chunks*chunk
			for i := from; i < min(from+chunk, len(w.points)); i++ {
				t := time(element, i)
				if math.IsNaN(t) {
					w.missing.Add(1)
				}
				w.table.Seconds[element*w.table.Points+i] = float32(t)
			}
			return nil
		}
	})
}

// finish returns the table.
func (w *writer) finish() *wedge.Times {
	w.table.Missing = int(w.missing.Load())
	return w.table
}

// checkEnds reports elements and points that no table can be made for.
func checkEnds(p *Part, elements, points []r3.Vec) error {
	if len(elements) == 0 || len(points) == 0 {
		return fmt.Errorf("graded: table of %d elements and %d points: want at least one of each", len(elements), len(points))
	}
	for i, e := range elements {
		if err := p.starts(fmt.Sprintf("element %d", i), e, elements[0].Y); err != nil {
			return err
		}
	}
	for i, q := range points {
		if err := checkSection(fmt.Sprintf("point %d", i), q, elements[0].Y); err != nil {
			return err
		}
	}
	return nil
}
