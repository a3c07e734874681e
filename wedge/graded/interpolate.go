// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"fmt"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// interpolation identifies the tables of [Part.Interpolate].
type interpolation struct {
	partPath
	grid wedge.Grid
}

const (
	defaultError = 0.5e-9 // s
	coarseCells  = 48     // cells along the longer side of the ends
)

// Interpolate returns the table of [Part.Times] for the points of a grid, but interpolates the times
// between few rays. It is 20 to 100 times as fast. The grid has one slice, in the section of the
// elements.
//
// The options are the options of Times with two exceptions. Tolerance is the largest error of a time
// at a check, at least 1e-13 s; 0 stands for 0.5 ns. Spacing is the largest distance of neighbouring
// rays and steps at first; 0 stands for 1/48 in place of 1/128. The table is found by shooting, for
// all polarisations. Its Rays is the number of rays that were shot, its Error the largest error at a
// check.
//
// # Method
//
// A fan of rays is shot from each element, as for [Part.Rays]. Its rays cut the part into tubes, and
// the wave fronts cut the tubes into triangles. In each triangle the time follows from the times and
// the slownesses at the corners, by a formula that is exact for quadratic functions. A tube is
// divided until the ray in its middle has the interpolated times within the tolerance. The check
// uses cells of twice the length, and the table has the two halves of the tube. So its errors are
// about an eighth of the errors at the checks.
//
// Folds and shadows stay sharp, because the triangles end where the rays end. A point takes its time
// from the triangles of its own zone only. If triangles overlap, the point has several rays, and
// Options.Arrival chooses. Where a tube meets a caustic it is divided until the triangles end within
// the way of a wave in the tolerance from the caustic. Points so close to a caustic or to the edge
// of a shadow may have the time of the other side.
func (p *Part) Interpolate(
	ctx context.Context, pol Polarisation, elements []r3.Vec, g wedge.Grid, options *Options,
) (*wedge.Times, error) {
	o, err := p.checkGrid(pol, elements, g, options)
	if err != nil {
		return nil, err
	}
	n := g.Len()
	t := &wedge.Times{
		Elements: len(elements), Points: n, Seconds: make([]float32, n*len(elements)),
		MadeFor: wedge.MadeFor{
			Elements: wedge.PlacesOf(func(yield func(r3.Vec) bool) {
				for _, e := range elements {
					if !yield(e) {
						return
					}
				}
			}),
			Points: g.Places(),
			Path:   interpolation{newPartPath(p, pol, o.Options), g},
		},
	}
	blank := newCanvas(p, g, o.Arrival+1)
	var adding sync.Mutex
	spread := parallel.Options{Workers: o.Workers, Progress: o.Progress}
	err = parallel.Do(ctx, len(elements), spread, func() func(int) error {
		c := blank.another()
		return func(e int) error {
			f := newMesh(p, pol, elements[e], &o)
			c.clear()
			c.paint(f)
			if err := f.limit(); err != nil {
				return fmt.Errorf("graded: element %d: %w", e, err)
			}
			missing := c.write(t.Seconds[e*n:][:n])
			adding.Lock()
			defer adding.Unlock()
			t.Missing += missing
			t.Rays += f.shots
			t.Error = max(t.Error, f.worst)
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	return t, nil
}

// checkGrid returns an error for arguments for which no table can be interpolated, and completes the
// options.
func (p *Part) checkGrid(
	pol Polarisation, elements []r3.Vec, g wedge.Grid, options *Options,
) (search, error) {
	if err := g.Validate(); err != nil {
		return search{}, fmt.Errorf("graded: %w", err)
	}
	if g.Slices != 1 {
		return search{}, fmt.Errorf("graded: grid of %d slices: want 1", g.Slices)
	}
	var o Options
	if options != nil {
		o = *options
	}
	if o.Tolerance == 0 {
		o.Tolerance = defaultError
	}
	if !(o.Tolerance >= 1e-13) {
		return search{}, fmt.Errorf("graded: tolerance %v s: want 0, or at least 1e-13 s",
			o.Tolerance)
	}
	return p.check(pol, elements, g.Points(), &o, true)
}

// newMesh returns a fan whose cells give times within the tolerance.
func newMesh(p *Part, pol Polarisation, element r3.Vec, o *search) *fan {
	spacing := o.ends.longest() / coarseCells
	if o.fixed {
		spacing = o.Spacing
	}
	return newFanOf(p, pol, element, o, spacing, o.Tolerance)
}
