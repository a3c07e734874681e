// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// gap is a range of x, without its ends, in which no leg may begin.
type gap struct {
	leg int
	Interval
	status Status // of a ray that would
}

// validateGaps reports a range that has no inside. Infinite ends are allowed.
func validateGaps(name string, ranges []Interval) error {
	for i, g := range ranges {
		if !(g.Min < g.Max) {
			return fmt.Errorf("wedge: gap %d of the %s from %v to %v m: want ascending order", i, name, g.Min, g.Max)
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

// checkGaps returns what is wrong with a ray whose leg k begins at place(k), if one begins
// in a gap of its surface, or one in the part beyond a side of it.
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

// meetings returns, for each gap of the path, the x at which the ray last found
// meets the surface of it.
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

// nearGap reports whether the range of x in which the rays to the corners meet a surface,
// and as much as a quarter more on either side, reaches a gap of it.
func (w *weaver) nearGap(c *cell) bool {
	for i := range w.path.gaps {
		g := &w.path.gaps[i]
		low, high := math.Inf(1), math.Inf(-1)
		for k := range c.corners {
			x := c.corners[k].meetings[i]
			low, high = min(low, x), max(high, x)
		}
		if more := (high - low) / 4; g.Min <= high+more && g.Max >= low-more {
			return true
		}
	}
	return false
}
