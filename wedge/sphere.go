// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// sphere is the surface of a sphere.
type sphere struct {
	centre r3.Vec
	radius float64
	sign   float64 // +1 convex, -1 concave
}

// NewSphere returns the surface of a sphere around centre (m). The radius is in metres, above 0.
// The far side of a [Convex] sphere is inside, the far side of a [Concave] sphere is outside.
//
// The parameters are arc lengths. The arc v begins at the great circle at the y of the centre. The
// arc u runs along this circle towards +x, from the point where the far side is straight below
// (+z). Away from the circle, u exceeds the length on the sphere by the factor 1/cos(v/radius). The
// two points farthest along y have no u, and no ray is found through them. For the centre, Locate
// returns u = v = 0.
func NewSphere(centre r3.Vec, radius float64, curvature Curvature) (Surface, error) {
	if err := checkFinite("centre of the sphere", centre); err != nil {
		return nil, err
	}
	if err := checkPositive("radius of the sphere", radius, "m"); err != nil {
		return nil, err
	}
	sign, err := curvature.sign("sphere")
	if err != nil {
		return nil, err
	}
	return &sphere{centre, radius, sign}, nil
}

func (s *sphere) At(u, v float64) Patch {
	sinU, cosU := math.Sincos(u / s.radius)
	sinV, cosV := math.Sincos(v / s.radius)
	// The outward normal, and its derivatives with respect to the angles u/r and v/r.
	n := r3.Vec{X: cosV * sinU, Y: sinV, Z: -s.sign * cosV * cosU}
	nu := r3.Vec{X: cosV * cosU, Z: s.sign * cosV * sinU}
	nv := r3.Vec{X: -sinV * sinU, Y: cosV, Z: s.sign * sinV * cosU}
	bend := 1 / s.radius
	return Patch{
		P:  r3.Add(s.centre, r3.Scale(s.radius, n)),
		U:  nu,
		V:  nv,
		UU: r3.Vec{X: -bend * n.X, Z: -bend * n.Z},
		UV: r3.Vec{X: -bend * sinV * cosU, Z: -bend * s.sign * sinV * sinU},
		VV: r3.Scale(-bend, n),
	}
}

func (s *sphere) Locate(p r3.Vec) (u, v float64) {
	d := r3.Sub(p, s.centre)
	if d == (r3.Vec{}) {
		return 0, 0
	}
	return s.radius * math.Atan2(d.X, -s.sign*d.Z), s.radius * math.Atan2(d.Y, math.Hypot(d.X, d.Z))
}

func (s *sphere) Depth(p r3.Vec) float64 { return s.sign * (s.radius - r3.Norm(r3.Sub(p, s.centre))) }

func (s *sphere) Extruded() bool { return false }
