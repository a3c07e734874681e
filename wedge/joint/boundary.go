// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// boundary is a chain of curves as a surface. Its parameter u is the length along the chain. The
// far side lies to the right of the way along the chain, as one looks at the section with z down.
// An open chain goes on straight beyond its ends, so that its first and its last curve are long.
type boundary struct {
	chain outline
	ends  []float64 // length of the chain up to the end of each curve, m
	sides outline   // closed; the near side lies within it
}

// NewBoundary returns the boundary of a polygon as an extruded surface, with the polygon on its
// near side. The polygon has at least three corners (m) within 0.5 m of the origin and does not
// cross itself. The order of the corners is free, and the last may be the first again.
func NewBoundary(polygon wedge.Outline) (wedge.Surface, error) {
	if len(polygon) > 0 && polygon[0] != polygon[len(polygon)-1] {
		polygon = append(polygon[:len(polygon):len(polygon)], polygon[0])
	}
	for i, p := range polygon {
		if !(math.Abs(p.X) <= extent && math.Abs(p.Y) <= extent) {
			return nil, fmt.Errorf("joint: corner %d of the polygon at (%v, %v) m: "+
				"want within %v m of the origin", i, p.X, p.Y, extent)
		}
	}
	curves := line(polygon...)
	if len(curves) < 3 || !simple(polygon) || !(outline{"", curves}.area() > 0) {
		return nil, fmt.Errorf("joint: polygon of %d sides: want at least 3 sides that do not cross",
			len(curves))
	}
	return newBoundary(curves, true)
}

// newBoundary returns the boundary along a chain. A straight open chain is a plane.
func newBoundary(chain []curve, closed bool) (wedge.Surface, error) {
	b := &boundary{sides: outline{curves: chain}}
	if !closed {
		first, last := chain[0], chain[len(chain)-1]
		if len(chain) == 1 && first.straight() {
			n := right(r2.Sub(first.to, first.from))
			return wedge.NewPlane(r3.Vec{X: first.from.X, Z: first.from.Y}, r3.Vec{X: n.X, Z: n.Y})
		}
		const beyond = 2 * extent
		before := r2.Sub(first.from, r2.Scale(beyond, r2.Unit(first.tangent(0))))
		after := r2.Add(last.to, r2.Scale(beyond, r2.Unit(last.tangent(1))))
		chain = appendCurve(line(before, first.from), first)
		chain = append(chain, b.sides.curves[1:]...)
		chain = append(chain, line(last.to, after)...)
		b.sides.curves = append(chain[:len(chain):len(chain)], aroundLeft(after, before)...)
	} else if turning(chain) > 0 {
		chain = backwards(chain) // the way has the polygon on its left
		b.sides.curves = chain
	}
	b.chain.curves = chain
	length := 0.0
	for _, c := range chain {
		length += c.length()
		b.ends = append(b.ends, length)
	}
	return b, nil
}

// aroundLeft closes a chain that runs between two far points by a far way to its left.
func aroundLeft(from, to r2.Vec) []curve {
	d := r2.Sub(to, from)
	left := right(d) // the way back has the left of the chain on its right
	return line(from, r2.Add(from, left), r2.Add(to, left), to)
}

// turning is above 0 if a closed chain turns to the right, as one looks at the section with z down.
func turning(chain []curve) float64 {
	sum := 0.0
	for _, c := range chain {
		a, b := r2.Sub(c.from, chain[0].from), r2.Sub(c.to, chain[0].from)
		sum += r2.Cross(a, b)/2 - c.segment()
	}
	return sum
}

// length returns the length of the curve in m.
func (c curve) length() float64 {
	if c.straight() {
		return c.chord()
	}
	_, radius := c.circle()
	return radius * c.span()
}

// At implements [wedge.Surface].
func (b *boundary) At(u, v float64) wedge.Patch {
	total := b.ends[len(b.ends)-1]
	if b.chain.closed() {
		u = math.Mod(math.Mod(u, total)+total, total)
	}
	i := 0
	for i < len(b.ends)-1 && b.ends[i] < u {
		i++
	}
	c := b.chain.curves[i]
	length := c.length()
	share := 1 - (b.ends[i]-u)/length
	p, d := c.At(share), r2.Unit(c.tangent(share))
	patch := wedge.Patch{P: r3.Vec{X: p.X, Y: v, Z: p.Y}, U: r3.Vec{X: d.X, Z: d.Y}, V: r3.Vec{Y: 1}}
	if !c.straight() {
		centre, radius := c.circle()
		bend := r2.Scale(1/(radius*radius), r2.Sub(centre, p))
		patch.UU = r3.Vec{X: bend.X, Z: bend.Y}
	}
	return patch
}

// nearest returns the parameter of the nearest point, and the distance.
func (b *boundary) nearest(p r2.Vec) (u, distance float64) {
	distance = math.Inf(1)
	for i, c := range b.chain.curves {
		share := c.nearest(p)
		if d := r2.Norm(r2.Sub(p, c.At(share))); d < distance {
			u, distance = b.ends[i]-(1-share)*c.length(), d
		}
	}
	return u, distance
}

// Locate implements [wedge.Surface].
func (b *boundary) Locate(p r3.Vec) (u, v float64) {
	u, _ = b.nearest(r2.Vec{X: p.X, Y: p.Z})
	return u, p.Y
}

// Depth implements [wedge.Surface].
func (b *boundary) Depth(p r3.Vec) float64 {
	q := r2.Vec{X: p.X, Y: p.Z}
	_, distance := b.nearest(q)
	if b.sides.contains(q) {
		return -distance
	}
	return distance
}

// Extruded implements [wedge.Surface].
func (b *boundary) Extruded() bool { return true }

// closed reports whether the chain ends where it begins.
func (o outline) closed() bool {
	return o.curves[0].from == o.curves[len(o.curves)-1].to
}
