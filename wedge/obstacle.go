// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"
	"sort"

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

// addWall adds a wall, unless the leg cannot pass through it. A straight leg cannot pass through it
// if the side of the leg is convex, or if the other side is convex and the leg ends on the surface.
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

// samples is the number of places at which a leg is checked against a height field, or against a
// surface of another package.
const samples = 64

// blocks reports whether the straight line between two points on the right side lies on the wrong
// side somewhere. It returns false if one of the points is on the wrong side.
func (b bound) blocks(from, to r3.Vec) bool {
	switch s := b.surface.(type) {
	case *cylinder:
		return s.between(from, to)
	case *profile:
		return s.between(b.side, from, to)
	case *heightField:
		return leaves(from, to, func(q r3.Vec) bool {
			excess := s.excess(q)
			return b.side == Near && excess <= tolerance || b.side == Far && excess >= -tolerance
		})
	}
	return leaves(from, to, b.admits)
}

// leaves reports whether a sample of the line between two admitted points is not admitted.
func leaves(from, to r3.Vec, admits func(r3.Vec) bool) bool {
	if !admits(from) || !admits(to) {
		return false
	}
	for i := 1; i < samples; i++ {
		if !admits(between(from, to, float64(i)/samples)) {
			return true
		}
	}
	return false
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
	first := sort.SearchFloat64s(p.x, from.X)
	for i := max(first-1, 0); i < p.final && p.x[i] < to.X; i++ {
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
