// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// cone is the surface of a circular cone on one side of its apex.
type cone struct {
	cylinder         // with the radius at the centre
	slope    float64 // growth of the radius along the axis
	sin, cos float64 // of the half angle
}

// NewCone returns the surface of a circular cone on one side of its apex, such as a reducer between
// two pipes. The axis passes through centre (m) along axis, which can have any length above 0, but
// must not lie along z. The radius at the centre is in metres, above 0. The half angle between the
// axis and the surface is in radians, in (-π/2, π/2). The radius grows along the axis by the
// tangent of the half angle. The far side of a [Convex] cone is inside, the far side of a [Concave]
// cone is outside.
//
// The parameter u is the arc length around the circle at the centre, as for [NewCylinder]. Away
// from this circle u is not exactly a length. The parameter v is the length along the axis from the
// centre. The apex has no normal, so no ray goes through it. The cone does not count as extruded,
// even at a half angle of zero: use [NewCylinder] there.
func NewCone(centre, axis r3.Vec, radius, halfAngle float64, curvature Curvature) (Surface, error) {
	if !(math.Abs(halfAngle) < math.Pi/2) {
		return nil, fmt.Errorf("wedge: half angle %v rad of the cone: want between -π/2 and π/2",
			halfAngle)
	}
	c, err := newCylinder(centre, axis, radius, curvature)
	if err != nil {
		return nil, err
	}
	c.centre = centre
	if r3.Dot(axis, c.axis) < 0 {
		halfAngle = -halfAngle // the cylinder has turned its axis
	}
	sin, cos := math.Sincos(halfAngle)
	return &cone{cylinder: *c, slope: sin / cos, sin: sin, cos: cos}, nil
}

func (c *cone) At(u, v float64) Patch {
	sin, cos := math.Sincos(u / c.radius)
	out := r3.Add(r3.Scale(sin, c.side), r3.Scale(cos, c.top))
	round := r3.Sub(r3.Scale(cos, c.side), r3.Scale(sin, c.top))
	share := 1 + v*c.slope/c.radius // of the radius at the centre
	return Patch{
		P:  r3.Add(c.centre, r3.Add(r3.Scale(v, c.axis), r3.Scale(share*c.radius, out))),
		U:  r3.Scale(share, round),
		V:  r3.Add(c.axis, r3.Scale(c.slope, out)),
		UU: r3.Scale(-share/c.radius, out),
		UV: r3.Scale(c.slope/c.radius, round),
	}
}

// nearest returns the parameters of the point of the cone that is nearest to p, and the distance of
// p from the cone, positive outside. For a point on the axis it returns u = 0.
func (c *cone) nearest(p r3.Vec) (u, v, outside float64) {
	d := r3.Sub(p, c.centre)
	side, top, along := r3.Dot(d, c.side), r3.Dot(d, c.top), r3.Dot(d, c.axis)
	radial := math.Hypot(side, top)
	// In the half plane through the axis and p, the cone is a line that begins at the apex. The
	// nearest point is the foot of p on this line, or else the apex.
	off := radial - c.radius
	v = (along*c.cos + off*c.sin) * c.cos
	outside = off*c.cos - along*c.sin
	if apex := -c.radius / c.slope; c.slope > 0 && v < apex || c.slope < 0 && v > apex {
		v = apex
		outside = math.Hypot(radial, along-apex)
	}
	return c.radius * math.Atan2(side, top), v, outside
}

func (c *cone) Locate(p r3.Vec) (u, v float64) {
	u, v, _ = c.nearest(p)
	return u, v
}

func (c *cone) Depth(p r3.Vec) float64 {
	_, _, outside := c.nearest(p)
	return -c.sign * outside
}

func (c *cone) Extruded() bool { return false }
