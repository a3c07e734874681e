// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// outline is a chain of curves. Each curve begins where the curve before it ends. The outline is
// closed if the last curve ends where the first curve begins.
type outline struct {
	name   string
	curves []curve
}

// polyline returns points along the outline in m. Straight lines between the points lie within the
// tolerance (m, above 0) of the outline. The polyline of a closed outline ends with its first
// point.
func (o outline) polyline(tolerance float64) []r2.Vec {
	if len(o.curves) == 0 {
		return nil
	}
	points := []r2.Vec{o.curves[0].from}
	for _, c := range o.curves {
		points = c.append(points, tolerance)
	}
	return points
}

// area returns the area in m² that the curves of a closed outline enclose.
func (o outline) area() float64 {
	area := 0.0
	for _, c := range o.curves {
		// Coordinates are relative to the first point, so that a far origin does not cost digits.
		a, b := r2.Sub(c.from, o.curves[0].from), r2.Sub(c.to, o.curves[0].from)
		area += r2.Cross(a, b)/2 - c.segment()
	}
	return math.Abs(area)
}

// contains reports whether p lies within a closed outline. For a point on the outline itself the
// answer may be either.
func (o outline) contains(p r2.Vec) bool {
	inside := false
	for _, c := range o.curves {
		a, b := c.from, c.to
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			inside = !inside
		}
		if c.straight() {
			continue
		}
		// Between the chord and the arc the answer is the opposite.
		side := r2.Dot(r2.Sub(p, a), right(r2.Sub(b, a)))
		centre, radius := c.circle()
		if side*c.sagitta > 0 && r2.Norm(r2.Sub(p, centre)) < radius {
			inside = !inside
		}
	}
	return inside
}

// distance returns the distance of p from the outline, in m.
func (o outline) distance(p r2.Vec) float64 {
	least := math.Inf(1)
	for _, c := range o.curves {
		least = min(least, r2.Norm(r2.Sub(p, c.At(c.nearest(p)))))
	}
	return least
}

// simple reports whether two edges of a polyline meet only at the point that they share.
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
		max(a.X, b.X) >= min(c.X, d.X) && max(c.X, d.X) >= min(a.X, b.X) &&
		max(a.Y, b.Y) >= min(c.Y, d.Y) && max(c.Y, d.Y) >= min(a.Y, b.Y)
}

// line returns the straight curves through the points. It leaves out curves of no length.
func line(points ...r2.Vec) (curves []curve) {
	for i := 1; i < len(points); i++ {
		curves = appendCurve(curves, curve{from: points[i-1], to: points[i]})
	}
	return curves
}

// appendCurve appends a curve unless it has no length.
func appendCurve(curves []curve, c curve) []curve {
	if c.from == c.to {
		return curves
	}
	return append(curves, c)
}

// backwards returns the chain from its end to its beginning.
func backwards(chain []curve) []curve {
	var curves []curve
	for i := len(chain) - 1; i >= 0; i-- {
		curves = append(curves, chain[i].reversed())
	}
	return curves
}
