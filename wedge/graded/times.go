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
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// chunk is the number of points of one task.
const chunk = 256

// Times returns the table of times of one wave from every element to every point (m). All elements
// and points lie in one section of constant y. The table has no directions. Nil options stand for
// the defaults.
//
// The table holds the ray of Options.Arrival for each point. Each time lies within
// Options.Tolerance of the time of that ray, apart from the rounding to float32. For arrival 0 of
// the qL and the SH wave the ray is found by bending. It is then the ray of least time, unless
// another ray is faster by less than 1 %, which the lattice cannot resolve. All other rays are
// found by shooting.
//
// It is an error if no ray can start at an element, or if a coordinate is not finite. A point that
// no ray reaches, such as a point outside the part, has the time NaN, and Missing counts it. The
// table has the same bits for any number of workers. If ctx ends early, Times returns its error. If
// the search for rays met a limit, Times returns an error that wraps [ErrLimit].
func (p *Part) Times(
	ctx context.Context, pol Polarisation, elements, points []r3.Vec, options *Options,
) (*wedge.Times, error) {
	o, err := p.check(pol, elements, points, options, false)
	if err != nil {
		return nil, err
	}
	prepare, err := p.prepare(ctx, pol, points, &o, elements[0].Y)
	if err != nil {
		return nil, err
	}
	w := newWriter(newPartPath(p, pol, o.Options), elements, points, o.Workers, o.Progress)
	spread := parallel.Options{Workers: o.Workers}
	times := make([]func(int) float64, parallel.Workers(o.Workers, len(elements)))
	for first := 0; first < len(elements); first += len(times) {
		group := elements[first:min(first+len(times), len(elements))]
		err := parallel.Do(ctx, len(group), spread, func() func(int) error {
			return func(i int) (err error) {
				if times[i], err = prepare(group[i]); err != nil {
					return fmt.Errorf("graded: element %d: %w", first+i, err)
				}
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

// prepare returns a function that prepares an element. It returns a function that gives the time to
// each point.
func (p *Part) prepare(
	ctx context.Context, pol Polarisation, points []r3.Vec, o *search, y float64,
) (func(element r3.Vec) (func(point int) float64, error), error) {
	if o.shoots(pol) {
		index := newPointIndex(points, o)
		return func(element r3.Vec) (func(int) float64, error) {
			a := newAim(element, index, o)
			return func(point int) float64 {
				rays := a.fan.rays(a.candidates[point], points[point])
				if o.Arrival >= len(rays) {
					return math.NaN()
				}
				return rays[o.Arrival].time
			}, a.fan.limit()
		}, nil
	}
	l, err := newLattice(ctx, p, pol, rectangle(o.Region), o.Spacing, y, o.Workers)
	if err != nil {
		return nil, err
	}
	benders := sync.Pool{New: func() any { return newBender(p, pol) }}
	return func(element r3.Vec) (func(int) float64, error) {
		f := newFront(l, element)
		return func(point int) float64 {
			b := benders.Get().(*bender)
			defer benders.Put(b)
			return b.ray(f, points[point], o.Tolerance).Time
		}, nil
	}, nil
}

// partPath identifies the tables of a part. It holds the part as it was when a table was made.
type partPath struct {
	part    Part
	pol     Polarisation
	options Options
}

func newPartPath(p *Part, pol Polarisation, o Options) partPath {
	part := *p
	part.Coupling = copyOf(p.Coupling)
	part.Media, part.Faces = slices.Clone(p.Media), slices.Clone(p.Faces)
	o.Skips = slices.Clone(o.Skips)
	o.Progress, o.Workers = nil, 0 // they change no time
	return partPath{part, pol, o}
}

// copyOf returns a copy of a coupling, which later changes of m do not change; nil if m is nil.
func copyOf(m *material.Isotropic) *material.Isotropic {
	if m == nil {
		return nil
	}
	c := *m
	return &c
}

// writer fills a table in tasks of a chunk of points for one element.
type writer struct {
	table    *wedge.Times
	points   []r3.Vec
	workers  int
	missing  atomic.Int64
	progress func(float64)
}

// newWriter returns a writer of an empty table. path is the path of [wedge.MadeFor].
func newWriter(
	path any, elements, points []r3.Vec, workers int, progress func(float64),
) *writer {
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
func (w *writer) fill(
	ctx context.Context, first, n int, time func(element, point int) float64,
) error {
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

// checkEnds returns an error for elements and points for which no table can be made.
func checkEnds(p *Part, elements, points []r3.Vec) error {
	if len(elements) == 0 || len(points) == 0 {
		return fmt.Errorf("graded: table of %d elements and %d points: want at least one of each",
			len(elements), len(points))
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
