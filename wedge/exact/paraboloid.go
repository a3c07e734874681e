// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package exact

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// paraboloid is the surface z = vertex.Z - ρ²/(4·focal), where ρ is the distance from the axis
// along z. It is a mirror that opens upwards. Its focus lies above the vertex, its far side below.
// Its parameters are x and y, measured from the vertex.
type paraboloid struct {
	vertex r3.Vec
	focal  float64 // focal length, m
}

// At implements [wedge.Surface].
func (s *paraboloid) At(u, v float64) wedge.Patch {
	bend := r3.Vec{Z: -1 / (2 * s.focal)}
	return wedge.Patch{
		P:  r3.Add(s.vertex, r3.Vec{X: u, Y: v, Z: (u*u + v*v) / 2 * bend.Z}),
		U:  r3.Vec{X: 1, Z: u * bend.Z},
		V:  r3.Vec{Y: 1, Z: v * bend.Z},
		UU: bend,
		VV: bend,
	}
}

// Locate implements [wedge.Surface].
func (s *paraboloid) Locate(q r3.Vec) (u, v float64) {
	d := r3.Sub(q, s.vertex)
	out, x, y := math.Hypot(d.X, d.Y), 1.0, 0.0
	if out > 0 {
		x, y = d.X/out, d.Y/out
	}
	meridian := func(u float64) (p, first, second r3.Vec) {
		at := s.At(u, 0)
		return r3.Sub(at.P, s.vertex), at.U, at.UU
	}
	// For a point on the axis above the centre of curvature, the nearest points form a circle of
	// this radius. It is 0 for a lower point.
	ring := math.Sqrt(max(0, -4*s.focal*(d.Z+2*s.focal)))
	u = nearest(meridian, r3.Vec{X: out, Z: d.Z}, max(out, ring))
	return u * x, u * y
}

// Depth implements [wedge.Surface].
func (s *paraboloid) Depth(q r3.Vec) float64 {
	u, v := s.Locate(q)
	above := s.At(q.X-s.vertex.X, q.Y-s.vertex.Y).P.Z
	return math.Copysign(r3.Norm(r3.Sub(q, s.At(u, v).P)), q.Z-above)
}

// Extruded implements [wedge.Surface].
func (s *paraboloid) Extruded() bool { return false }
