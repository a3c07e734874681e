// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"
)

// gap is an open range of x in which no leg may begin.
type gap struct {
	leg int
	Interval
	status Status // of a ray with such a leg
}

// validateGaps reports a range that is empty. Infinite ends are allowed.
func validateGaps(name string, ranges []Interval) error {
	for i, g := range ranges {
		if !(g.Min < g.Max) {
			return fmt.Errorf("wedge: gap %d of the %s from %v to %v m: want ascending order",
				i, name, g.Min, g.Max)
		}
	}
	return nil
}

// addGaps makes the ranges gaps of the surface on which a leg begins.
func (p *Path) addGaps(leg int, ranges []Interval, status Status) {
	for _, r := range ranges {
		p.gaps = append(p.gaps, gap{leg, r, status})
	}
}

// checkGaps returns the status of a ray whose leg k begins at place(k). The status is not [OK] if a
// leg begins in a gap of its surface, or if a leg in the part begins beyond a side of the part.
func (p *Path) checkGaps(place func(k int) r3.Vec) Status {
	for i := range p.gaps {
		g := &p.gaps[i]
		if x := place(g.leg).X; x > g.Min && x < g.Max {
			return g.status
		}
	}
	for _, b := range p.sides {
		for k := p.inPart; k < len(p.legs); k++ {
			if !b.admits(place(k)) {
				return OffSurface
			}
		}
	}
	return OK
}

// meetings returns, for each gap of the path, the x at which the ray last found meets the surface
// of the gap.
func (w *tracer) meetings(element, q r3.Vec) []float64 {
	p := w.solver.path
	if p.gaps == nil {
		return nil
	}
	x := make([]float64, len(p.gaps))
	for i := range x {
		k := p.gaps[i].leg
		x[i] = w.solver.points[k].X
		if w.section != nil && element.Y == q.Y {
			x[i] = w.section.place(k, element, q).X
		}
	}
	return x
}
