// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
)

// Outline is a polyline in the section, extruded along y. X of a point is x and Y of a point is the
// depth z, both in m. The outline is closed if its last point equals its first point. It is the
// same type as the lines that package tfm/picture draws.
//
// As a void, an outline blocks every leg that passes through it. A leg that ends on the outline or
// runs along it does not pass through.
type Outline = []r2.Vec

// validateOutline returns an error for an outline that cannot block a leg.
func validateOutline(name string, o Outline) error {
	if len(o) < 2 {
		return fmt.Errorf("wedge: %s of %d points: want at least 2", name, len(o))
	}
	for i, p := range o {
		if !finite(r3.Vec{X: p.X, Z: p.Y}) {
			return fmt.Errorf("wedge: point %d of %s (%v, %v) m: want finite coordinates",
				i, name, p.X, p.Y)
		}
	}
	return nil
}

// void is an outline that no leg in the part passes through. It is checked after a ray is found.
type void struct {
	points   []point
	min, max point // corners of the rectangle around the points
}

// newVoid returns the void of a valid outline, which it copies.
func newVoid(o Outline) void {
	v := void{min: point{o[0].X, o[0].Y}, max: point{o[0].X, o[0].Y}}
	for _, p := range o {
		v.points = append(v.points, point{p.X, p.Y})
		v.min = point{min(v.min.x, p.X), min(v.min.z, p.Y)}
		v.max = point{max(v.max.x, p.X), max(v.max.z, p.Y)}
	}
	return v
}

// blocks reports whether the line from a to b passes through the void.
//
// The line passes through a segment under two conditions. The points a and b lie on opposite sides
// of the segment, neither of them on it. The ends of the segment lie on opposite sides of the line.
//
// An end of a segment on the line counts to one side. It is the same side for both segments that
// meet there, so no line slips through a corner. A line that only touches the void is recognised
// by two tests: ends of segments on the line count to one side in the first test, and to the other
// side in the second test.
func (v *void) blocks(a, b point) bool {
	if max(a.x, b.x) < v.min.x || min(a.x, b.x) > v.max.x ||
		max(a.z, b.z) < v.min.z || min(a.z, b.z) > v.max.z {
		return false
	}
	return v.cut(a, b) && v.cut(b, a)
}

// cut is one test of blocks: ends of segments on the line count to the side of positive cross
// products.
func (v *void) cut(a, b point) bool {
	near := -tolerance * math.Hypot(b.x-a.x, b.z-a.z)
	p := v.points[0]
	side := cross(a, b, p) < near
	for _, q := range v.points[1:] {
		was := side
		side = cross(a, b, q) < near
		if was != side {
			edge := tolerance * math.Hypot(q.x-p.x, q.z-p.z)
			from, to := cross(p, q, a), cross(p, q, b)
			if from > edge && to < -edge || from < -edge && to > edge {
				return true
			}
		}
		p = q
	}
	return false
}

// cross returns the cross product of ab and ap: the distance of p from the line through a and b,
// times the length of ab.
func cross(a, b, p point) float64 { return (b.x-a.x)*(p.z-a.z) - (b.z-a.z)*(p.x-a.x) }

// enclosedBy reports whether p lies inside a closed outline, and not on it.
func enclosedBy(o Outline, p point) bool {
	last := len(o) - 1
	if last < 1 || o[0] != o[last] {
		return false
	}
	inside := false
	for i := range last {
		a, b := point{o[i].X, o[i].Y}, point{o[i+1].X, o[i+1].Y}
		if fromLine(p, a, b) <= tolerance {
			return false
		}
		// The even-odd rule: a line from p along -x crosses the edge.
		if (a.z > p.z) != (b.z > p.z) && p.x > a.x+(p.z-a.z)/(b.z-a.z)*(b.x-a.x) {
			inside = !inside
		}
	}
	return inside
}

// fromLine returns the distance of p from the line between a and b.
func fromLine(p, a, b point) float64 {
	d, e := b.minus(a), p.minus(a)
	share := 0.0
	if length2 := d.x*d.x + d.z*d.z; length2 > 0 {
		share = min(max((d.x*e.x+d.z*e.z)/length2, 0), 1)
	}
	return math.Hypot(e.x-share*d.x, e.z-share*d.z)
}

// passesVoid reports whether a leg in the part passes through a void. Leg k begins at place(k).
func (p *Path) passesVoid(place func(k int) r3.Vec) bool {
	for k := p.inPart; k < len(p.legs); k++ {
		a, b := flat(place(k)), flat(place(k+1))
		for i := range p.voids {
			if p.voids[i].blocks(a, b) {
				return true
			}
		}
	}
	return false
}
