// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// branchPath identifies a table of Part.Branches.
type branchPath struct {
	partPath
	acoustics Acoustics
	number    int
}

// branch is a ray from an element to a point.
type branch struct {
	time      float64 // s
	amplitude complex128
}

// strongest is the largest modulus of an amplitude in a table of branches. Its unit is the median of
// the moduli of all rays to the point, from all elements. Next to a caustic, rays overstate the
// amplitude. A mean would follow such amplitudes; the median does not. For a Rayleigh distribution the
// limit is twice the root mean square.
const strongest = 2.4

// Branches returns the times and the amplitudes of all rays from every element to every point (m).
// Each ray is found by shooting, as by [Part.Rays]. Nil acoustics and nil options stand for the
// defaults; Options.Arrival has no effect. All media must implement [Elastic].
//
// Where several qSV rays lead to a point, an image needs all of them: see [tfm.NewBranchPlan]. Near
// caustics, where ray theory overstates amplitudes, their moduli are limited to 2.4 times the
// median modulus of all rays to the point. A ray without an amplitude is left out (see
// [Part.Amplitudes]).
//
// The errors are the errors of [Part.Times] and [Part.Amplitudes]. The result has the same bits for
// any number of workers. If ctx ends early, Branches returns its error. A ray takes about 0.3 ms.
//
// [tfm.NewBranchPlan]: https://pkg.go.dev/github.com/isochron-imaging/isochron/tfm#NewBranchPlan
func (p *Part) Branches(
	ctx context.Context, pol Polarisation, elements, points []r3.Vec, acoustics *Acoustics, options *Options,
) (*wedge.Branches, error) {
	o, err := p.check(pol, elements, points, options, true)
	if err != nil {
		return nil, err
	}
	law, err := p.acoustics(acoustics)
	if err != nil {
		return nil, err
	}
	index := newPointIndex(points, &o)
	found := make([][][]branch, len(elements))
	spread := parallel.Options{Workers: o.Workers, Progress: o.Progress}
	err = parallel.Do(ctx, len(elements), spread, func() func(int) error {
		return func(e int) (err error) {
			a := newAim(elements[e], index, &o)
			if err := a.fan.limit(); err != nil {
				return fmt.Errorf("graded: element %d: %w", e, err)
			}
			found[e], err = a.branches(ctx, points, law)
			return err
		}
	})
	if err != nil {
		return nil, err
	}
	limitAmplitudes(found)
	return newBranches(found, elements, points, func(k int) any {
		return branchPath{newPartPath(p, pol, o.Options), *law, k}
	}), nil
}

// branches returns the rays to each point.
func (a *aim) branches(ctx context.Context, points []r3.Vec, acoustics *Acoustics) ([][]branch, error) {
	out := make([][]branch, len(points))
	for i, q := range points {
		if i%chunk == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		for _, s := range a.fan.rays(a.candidates[i], q) {
			v, err := a.fan.amplitude(&s, acoustics)
			if err != nil {
				return nil, err
			}
			if value := v.Value(); value*0 == 0 && value != 0 {
				out[i] = append(out[i], branch{s.time, value})
			}
		}
	}
	return out, nil
}

// limitAmplitudes limits the amplitudes of each point.
func limitAmplitudes(found [][][]branch) {
	for point := range found[0] {
		var sizes []float64
		for _, rays := range found {
			for _, b := range rays[point] {
				sizes = append(sizes, cmplx.Abs(b.amplitude))
			}
		}
		if len(sizes) == 0 {
			continue
		}
		limit := strongest * number.Median(sizes)
		for _, rays := range found {
			for k, b := range rays[point] {
				if size := cmplx.Abs(b.amplitude); size > limit {
					rays[point][k].amplitude *= complex(limit/size, 0)
				}
			}
		}
	}
}

// newBranches returns the tables of the rays.
func newBranches(found [][][]branch, elements, points []r3.Vec, path func(int) any) *wedge.Branches {
	most := 1
	for _, rays := range found {
		for _, list := range rays {
			most = max(most, len(list))
		}
	}
	out := new(wedge.Branches)
	for k := range most {
		w := newWriter(path(k), elements, points, 1, nil)
		amplitudes := make([]complex64, len(elements)*len(points))
		for e, rays := range found {
			for i, list := range rays {
				at := e*len(points) + i
				if k < len(list) {
					w.table.Seconds[at], amplitudes[at] = float32(list[k].time), complex64(list[k].amplitude)
				} else {
					w.table.Seconds[at] = float32(math.NaN())
					w.table.Missing++
				}
			}
		}
		out.Times, out.Amplitudes = append(out.Times, w.table), append(out.Amplitudes, amplitudes)
	}
	return out
}
