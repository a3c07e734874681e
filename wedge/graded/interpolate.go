// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"fmt"
	"slices"
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
	defaultError = 1e-9 // s
	// leastError is the least tolerance in s. At 1 ps one time in a thousand was wrong by 3 ps.
	leastError = 1e-11
	// allowed is the largest error at a check as a share of the tolerance. Errors across the rays,
	// along the rays and between both directions add up in a cell.
	allowed     = 1. / 3
	coarseCells = 48 // cells along the longer side of the ends
)

// Interpolate returns the table of [Part.Times] for the points of a grid, but interpolates the times
// between few rays. It is a hundred times as fast. The grid has one slice, in the section of the
// elements.
//
// The options are the options of Times with two exceptions. Tolerance is the largest error of a time
// in s, at least 1e-11; 0 stands for 1 ns. Spacing is the largest distance of neighbouring rays and
// of steps along a ray; 0 stands for 1/48 in place of 1/128. The waves of all polarisations are
// shot. In the table, Rays is the number of rays that were shot, and Error the largest error that
// was found at a check and accepted, in s.
//
// # Method
//
// A fan of rays is shot from each element, as for [Part.Rays]. Its rays cut the part into tubes, and
// the wave fronts cut the tubes into triangles. In a triangle the time at the point q is
//
//	Σ λ (t + p·(q − c)/2)
//
// with the sum over the corners c, where t is the time, p the slowness of the ray, and λ the share
// of the corner in q. The formula is exact for quadratic functions of the place. A tube is divided
// until the ray in its middle has the interpolated times and slopes, within a third of the tolerance.
// The slopes show an error that is zero in the middle. Then both halves are used. A step along a ray
// is divided if the ray between its ends has other times or slopes. So a check uses a cell of twice
// the size, and a quarter of its error counts.
//
// Folds and shadows stay sharp, because the triangles end where the rays end. If triangles overlap,
// the point has several rays, and Options.Arrival chooses. Next to the edge of a shadow, and next to
// a caustic, tubes and steps are divided until their sides lie within the tolerance of the edge.
// Points that are so close to the edge may have the time of the other side. In contact, the bent
// rays of Times may lie up to 10 µm outside the part. Points that only such rays reach have no time
// here.
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
			Elements: wedge.PlacesOf(slices.Values(elements)),
			Points:   g.Places(),
			Path:     interpolation{newPartPath(p, pol, o.Options), g},
		},
	}
	blank := newCanvas(o.part, g, o.Arrival+1)
	var adding sync.Mutex
	spread := parallel.Options{Workers: o.Workers, Progress: o.Progress}
	err = parallel.Do(ctx, len(elements), spread, func() func(int) error {
		c := blank.another()
		return func(e int) error {
			f := newMesh(elements[e], &o)
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
	if !(o.Tolerance >= leastError) {
		return search{}, fmt.Errorf("graded: tolerance %v s: want 0, or at least 1e-11 s",
			o.Tolerance)
	}
	return p.check(pol, elements, g.Points(), &o, true)
}

// newMesh returns a fan whose cells give times within the tolerance.
func newMesh(element r3.Vec, o *search) *fan {
	spacing := o.ends.longest() / coarseCells
	if o.fixed {
		spacing = o.Spacing
	}
	return newFanOf(element, o, spacing, allowed*o.Tolerance)
}
