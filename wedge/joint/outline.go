// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Outline is a chain of curves, each of which begins where the one before ends. It
// is closed if the last ends where the first begins.
type Outline struct {
	Name  string
	Edges []Curve
}

// Polyline returns points along the outline, in m, between which straight lines
// are nowhere farther from it than the tolerance (m, above 0); that of a closed
// outline ends with its first point. It has the form of a wedge.Outline.
func (o Outline) Polyline(tolerance float64) []r2.Vec {
	if len(o.Edges) == 0 {
		return nil
	}
	points := []r2.Vec{o.Edges[0].From}
	for _, c := range o.Edges {
		points = c.append(points, tolerance)
	}
	return points
}

// Area returns the area that a closed outline encloses, in m²: that of its curves,
// not of a polyline.
func (o Outline) Area() float64 {
	area := 0.0
	for _, c := range o.Edges {
		// Relative to the first point, so that a shift does not cost digits.
		a, b := r2.Sub(c.From, o.Edges[0].From), r2.Sub(c.To, o.Edges[0].From)
		area += r2.Cross(a, b)/2 - c.segment()
	}
	return math.Abs(area)
}

// Contains reports whether p lies within a closed outline. Of a point on the
// outline itself it may say either.
func (o Outline) Contains(p r2.Vec) bool {
	inside := false
	for _, c := range o.Edges {
		a, b := c.From, c.To
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			inside = !inside
		}
		if c.straight() {
			continue
		}
		// Between the chord and the arc it is the other way round.
		side := r2.Dot(r2.Sub(p, a), right(r2.Sub(b, a)))
		centre, radius := c.Circle()
		if side*c.Sagitta > 0 && r2.Norm(r2.Sub(p, centre)) < radius {
			inside = !inside
		}
	}
	return inside
}

// distance returns how far p lies from the outline, in m.
func (o Outline) distance(p r2.Vec) float64 {
	least := math.Inf(1)
	for _, c := range o.Edges {
		least = math.Min(least, r2.Norm(r2.Sub(p, c.At(c.nearest(p)))))
	}
	return least
}

// simple reports whether no two edges of a polyline meet but at the point that they share.
func simple(points []r2.Vec) bool {
	n := len(points) - 1
	for i := range n {
		for j := i + 2; j < n; j++ {
			if i == 0 && j == n-1 && points[0] == points[n] {
				continue
			}
			if meet(points[i], points[i+1], points[j], points[j+1]) {
				return false
			}
		}
	}
	return true
}

// meet reports whether two straight lines have a point in common.
func meet(a, b, c, d r2.Vec) bool {
	side := func(a, b, p r2.Vec) float64 { return r2.Cross(r2.Sub(b, a), r2.Sub(p, a)) }
	return side(a, b, c)*side(a, b, d) <= 0 && side(c, d, a)*side(c, d, b) <= 0 &&
		math.Max(a.X, b.X) >= math.Min(c.X, d.X) && math.Max(c.X, d.X) >= math.Min(a.X, b.X) &&
		math.Max(a.Y, b.Y) >= math.Min(c.Y, d.Y) && math.Max(c.Y, d.Y) >= math.Min(a.Y, b.Y)
}

// line returns the straight curves through the points, without those of no length.
func line(points ...r2.Vec) (curves []Curve) {
	for i := 1; i < len(points); i++ {
		curves = appendCurve(curves, Curve{From: points[i-1], To: points[i]})
	}
	return curves
}

// appendCurve appends a curve unless it has no length.
func appendCurve(curves []Curve, c Curve) []Curve {
	if c.From == c.To {
		return curves
	}
	return append(curves, c)
}

// backwards returns the chain from its end to its beginning.
func backwards(chain []Curve) []Curve {
	var curves []Curve
	for i := len(chain) - 1; i >= 0; i-- {
		curves = append(curves, chain[i].reversed())
	}
	return curves
}
