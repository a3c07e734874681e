// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Interval is a range of a coordinate, in metres, both ends included.
type Interval struct{ Min, Max float64 }

// validate reports an interval that is empty or not finite.
func (i Interval) validate(name string) error {
	if !(i.Min <= i.Max) || math.IsInf(i.Min, 0) || math.IsInf(i.Max, 0) {
		return fmt.Errorf("wedge: %s from %v to %v m: want finite values in ascending order",
			name, i.Min, i.Max)
	}
	return nil
}

// wall is a surface that a leg must not pass through between its ends.
type wall struct {
	leg int
	bound
}

// addWall adds a wall, unless the leg cannot pass through it. A straight leg cannot pass through
// it if the side of the leg is convex, or if the other side is convex and the leg ends on the
// surface.
func (p *Path) addWall(leg int, b bound) {
	if convex(b) {
		return
	}
	if convex(bound{b.surface, 1 - b.side}) {
		if leg > 0 && p.crossings[leg-1].Surface == b.surface ||
			leg < len(p.crossings) && p.crossings[leg].Surface == b.surface {
			return
		}
	}
	p.walls = append(p.walls, wall{leg, b})
}

// convex reports whether the side of the surface is known to be convex.
func convex(b bound) bool {
	switch s := b.surface.(type) {
	case *plane:
		return true
	case *cylinder:
		return (b.side == Far) == (s.sign > 0)
	case *cone:
		return (b.side == Far) == (s.sign > 0)
	case *sphere:
		return (b.side == Far) == (s.sign > 0)
	}
	return false
}

// blocks reports whether the straight line between two points on the right side lies on the wrong
// side somewhere. It returns false if one of the points is on the wrong side.
func (b bound) blocks(from, to r3.Vec) bool {
	switch s := b.surface.(type) {
	case *cylinder:
		return s.between(from, to)
	case *profile:
		return s.between(b.side, from, to)
	}
	return b.leaves(from, to)
}

// leaves reports whether the line between two points on the right side of b lies on the wrong side
// somewhere. No step along the line is longer than the distance from the surface, except for steps
// so short that the line cannot go far to the wrong side between them.
func (b bound) leaves(from, to r3.Vec) bool {
	const shortest = 1. / 4096 // of the line
	if !(b.atLeast(from) >= -tolerance && b.atLeast(to) >= -tolerance) {
		return false
	}
	length := r3.Norm(r3.Sub(to, from))
	for at := shortest; at < 1; {
		here := b.atLeast(between(from, to, at))
		if here < -tolerance {
			return true
		}
		at += max(here/length, shortest)
	}
	return false
}

// clearance returns how far the line between two points stays away from the wrong side: the least
// depth on the right side, as a share of the length of the line. Next to an end that lies on the
// surface it is the share of the distance from this end. It is below 0 for a line that is blocked.
func (b bound) clearance(from, to r3.Vec, starts, ends bool) float64 {
	const samples = 32
	depth := b.surface.Depth
	switch s := b.surface.(type) {
	case *profile:
		// A line that begins on the curve, or ends there, and is so steep leaves the curve for
		// good.
		run, rise := math.Hypot(to.X-from.X, to.Y-from.Y), math.Abs(to.Z-from.Z)
		if starts != ends && s.steep*run < rise/2 {
			return (rise - s.steep*run) / math.Hypot(run, rise)
		}
		depth = func(q r3.Vec) float64 {
			z, _, _ := s.curve(q.X)
			return q.Z - z
		}
	case *heightField:
		depth = s.atLeast
	}
	length, least := r3.Norm(r3.Sub(to, from)), math.Inf(1)
	for i := range samples + 1 {
		share := float64(i) / samples
		if i == 0 && starts || i == samples && ends {
			continue
		}
		scale := length
		if starts {
			scale *= share
		}
		if ends {
			scale *= 1 - share
		}
		here := depth(between(from, to, share)) / scale
		if b.side == Near {
			here = -here
		}
		least = min(least, here)
	}
	return least
}

// clearance returns the least clearance of the ray last found from the walls, without a unit. It
// is +Inf without walls.
func (w *tracer) clearance(element, q r3.Vec) float64 {
	least := math.Inf(1)
	p := w.solver.path
	place := func(k int) r3.Vec {
		if w.section != nil && element.Y == q.Y {
			return w.section.place(k, element, q)
		}
		return w.solver.points[k]
	}
	for i := range p.walls {
		k := p.walls[i].leg
		starts := k > 0 && p.crossings[k-1].Surface == p.walls[i].surface
		ends := k < len(p.crossings) && p.crossings[k].Surface == p.walls[i].surface
		least = min(least, p.walls[i].clearance(place(k), place(k+1), starts, ends))
	}
	return least
}

// between reports whether the line between two points outside the cylinder passes through it.
func (c *cylinder) between(from, to r3.Vec) bool {
	a, d := r3.Sub(from, c.centre), r3.Sub(to, from)
	ax, az := r3.Dot(a, c.side), r3.Dot(a, c.top)
	dx, dz := r3.Dot(d, c.side), r3.Dot(d, c.top)
	// The distance from the axis is smallest at the share along/d² of the line.
	along, d2 := -(ax*dx + az*dz), dx*dx+dz*dz
	if !(along > 0 && along < d2) {
		return false
	}
	bx, bz := ax+dx, az+dz
	a2, b2, inner := ax*ax+az*az, bx*bx+bz*bz, c.radius-tolerance
	inner2 := inner * inner
	return a2 >= inner2 && b2 >= inner2 && (a2-inner2)*d2 < along*along
}

// between reports whether the line between two points on one side of the profile passes to the
// other side.
func (p *profile) between(side Side, from, to r3.Vec) bool {
	if from.X > to.X {
		from, to = to, from
	}
	slope := (to.Z - from.Z) / (to.X - from.X)
	if math.Abs(slope) >= p.steep {
		return false // the distance of the line from the curve is monotonic
	}
	// excess returns the distance along z by which the line lies on the wrong side at x, in m.
	excess := func(x float64) float64 {
		z, _, _ := p.curve(x)
		below := from.Z + (x-from.X)*slope - z
		if side == Near {
			return below
		}
		return -below
	}
	if !(from.X < to.X) || excess(from.X) > tolerance || excess(to.X) > tolerance {
		return false // a vertical line meets the profile once
	}
	for i := max(p.before(from.X), 0); i < p.final && p.x[i] < to.X; i++ {
		// The distance of the line from the cubic is largest where their slopes are equal:
		// dz + t·bend + t²·dbend/2 = slope.
		a, b, c := p.dbend[i]/2, p.bend[i], p.dz[i]-slope
		for _, t := range quadraticRoots(a, b, c) {
			x := p.x[i] + t
			if t >= 0 && x <= p.x[i+1] && x > from.X && x < to.X && excess(x) > tolerance {
				return true
			}
		}
	}
	return false
}

// quadraticRoots returns the real roots of a·t² + b·t + c by the formula without cancellation. A
// root that does not exist is NaN.
func quadraticRoots(a, b, c float64) [2]float64 {
	root := math.Sqrt(b*b - 4*a*c)
	q := -(b + math.Copysign(root, b)) / 2
	return [2]float64{q / a, c / q}
}
