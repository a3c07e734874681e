// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Curvature tells which side of a cylinder, a cone or a sphere is its far side.
type Curvature uint8

const (
	// Convex: the far side is inside, as the part is for an array outside a pipe.
	Convex Curvature = iota
	// Concave: the far side is outside, as the part is for an array in the bore of a pipe.
	Concave
)

// sign returns +1 for a convex surface and -1 for a concave surface.
func (c Curvature) sign(name string) (float64, error) {
	switch c {
	case Convex:
		return 1, nil
	case Concave:
		return -1, nil
	}
	return 0, fmt.Errorf("wedge: curvature %d of the %s: want Convex or Concave", c, name)
}

// cylinder is the surface of a circular cylinder.
type cylinder struct {
	centre, axis, top, side r3.Vec // top points from the axis to u = 0, side to a quarter turn on
	radius                  float64
	sign                    float64 // +1 convex, -1 concave
	extruded                bool
}

// NewCylinder returns the surface of a circular cylinder. The axis passes through centre (m) along
// axis, which can have any length above 0, but must not lie along z. The radius is in metres, above
// 0.
//
// The parameter u is the arc length around the axis. It starts at the line where the far side is
// straight below (+z): the top of a convex cylinder, the bottom of a concave one. There it runs
// towards +x. The parameter v is the length along the axis. For a point on the axis, Locate returns
// u = 0.
func NewCylinder(centre, axis r3.Vec, radius float64, curvature Curvature) (Surface, error) {
	c, err := newCylinder(centre, axis, radius, curvature)
	if err != nil {
		return nil, err
	}
	return c, nil
}

func newCylinder(centre, axis r3.Vec, radius float64, curvature Curvature) (*cylinder, error) {
	if err := checkFinite("centre of the cylinder", centre); err != nil {
		return nil, err
	}
	if err := checkFinite("axis of the cylinder", axis); err != nil {
		return nil, err
	}
	if err := checkPositive("radius of the cylinder", radius, "m"); err != nil {
		return nil, err
	}
	sign, err := curvature.sign("cylinder")
	if err != nil {
		return nil, err
	}
	down, along := r3.Vec{Z: 1}, unit(axis)
	if !(r3.Norm(r3.Cross(along, down)) > 1e-9) {
		return nil, fmt.Errorf("wedge: axis of the cylinder %v: want a vector that is not zero and not along z",
			axis)
	}
	if along.Y < 0 || along.Y == 0 && along.X < 0 {
		along = r3.Scale(-1, along)
	}
	c := &cylinder{centre: centre, axis: along, radius: radius, sign: sign}
	below := r3.Sub(down, r3.Scale(r3.Dot(down, c.axis), c.axis))
	c.top = r3.Scale(-c.sign, r3.Unit(below))
	// V is the axis and the normal is N = U × V, so U = V × N. At u = 0 the normal points down on
	// a convex and on a concave cylinder.
	c.side = r3.Cross(c.axis, r3.Unit(below))
	if along.X == 0 && along.Z == 0 {
		c.centre.Y = 0
		c.extruded = true
	}
	return c, nil
}

func (c *cylinder) At(u, v float64) Patch {
	sin, cos := math.Sincos(u / c.radius)
	out := r3.Vec{ // unit vector from the axis to the point
		X: sin*c.side.X + cos*c.top.X,
		Y: sin*c.side.Y + cos*c.top.Y,
		Z: sin*c.side.Z + cos*c.top.Z,
	}
	bend := -1 / c.radius
	return Patch{
		P: r3.Vec{
			X: c.centre.X + v*c.axis.X + c.radius*out.X,
			Y: c.centre.Y + v*c.axis.Y + c.radius*out.Y,
			Z: c.centre.Z + v*c.axis.Z + c.radius*out.Z,
		},
		U: r3.Vec{
			X: cos*c.side.X - sin*c.top.X,
			Y: cos*c.side.Y - sin*c.top.Y,
			Z: cos*c.side.Z - sin*c.top.Z,
		},
		V:  c.axis,
		UU: r3.Vec{X: bend * out.X, Y: bend * out.Y, Z: bend * out.Z},
	}
}

func (c *cylinder) Locate(p r3.Vec) (u, v float64) {
	d := r3.Sub(p, c.centre)
	return c.radius * math.Atan2(r3.Dot(d, c.side), r3.Dot(d, c.top)), r3.Dot(d, c.axis)
}

func (c *cylinder) Depth(p r3.Vec) float64 {
	d := r3.Sub(p, c.centre)
	return c.sign * (c.radius - math.Hypot(r3.Dot(d, c.side), r3.Dot(d, c.top)))
}

func (c *cylinder) Extruded() bool { return c.extruded }
