// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"
)

// Branches holds the times and the amplitudes of all rays from elements to points, for parts in
// which several rays lead from an element to a point. A table of [Times] alone holds one of them.
type Branches struct {
	// Times holds in table k the ray number k from each element to each point, in the order of
	// arrival. Where an element has fewer rays to a point, the time is NaN. There is at least one
	// table, and all tables have the same elements and points.
	Times []*Times
	// Amplitudes holds in list k the complex amplitudes of the rays of Times[k], in the order of
	// Seconds, 0 where there is no ray. The time factor is exp(−iωt), and the phase of travel is
	// not part of the amplitude. One real factor for all amplitudes is free.
	Amplitudes [][]complex64
}

// phaseFactors holds exp(−iπ/2·k) at k: the factor of the amplitude after k caustics.
var phaseFactors = [...]complex64{1, -1i, -1, 1i}

// Branches returns all rays from every element to every point of one section of constant y (m). All
// surfaces of p must be extruded, and all ends must have the same y. Other errors, the options and
// the concurrency are described at [Path.Times]; the options must not have a Choice. The tables hold
// no directions.
//
// Each caustic that a ray touches delays its phase by π/2 ([StationaryRay.Index]), so the amplitude
// of a ray of index k is exp(−iπ/2·k). Its modulus is 1: where rays of very different strength lead
// to a point, scale the amplitudes by the moduli of [Amplitudes.Along].
//
// [tfm.NewBranchPlan] makes images that sum all rays in phase.
//
// [tfm.NewBranchPlan]: https://pkg.go.dev/github.com/isochron-imaging/isochron/tfm#NewBranchPlan
func (p *Path) Branches(ctx context.Context, elements, points []r3.Vec, options *TimesOptions) (*Branches, error) {
	if options == nil {
		options = new(TimesOptions)
	}
	if options.Choice != (Choice{}) || options.Directions {
		return nil, fmt.Errorf("wedge: branches with a choice or with directions: want all rays, without directions")
	}
	var adding sync.Mutex
	var tables [][]float32
	out := new(Branches)
	extend := func() {
		tables = append(tables, slices.Repeat([]float32{float32(math.NaN())}, len(elements)*len(points)))
		out.Amplitudes = append(out.Amplitudes, make([]complex64, len(elements)*len(points)))
	}
	extend()
	err := p.each(ctx, elements, points, options, func(at int, rays []StationaryRay) {
		adding.Lock()
		defer adding.Unlock()
		for k, r := range rays {
			if k == len(tables) {
				extend()
			}
			tables[k][at], out.Amplitudes[k][at] = float32(r.Time), phaseFactors[r.Index%len(phaseFactors)]
		}
	})
	if err != nil {
		return nil, err
	}
	for k, seconds := range tables {
		t, err := NewTimes(chosen{p, k}, elements, points, seconds)
		if err != nil {
			return nil, err
		}
		out.Times = append(out.Times, t)
	}
	return out, nil
}
