// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"
)

// plane is a flat surface at any tilt.
type plane struct {
	origin, u, v, normal r3.Vec
	extruded             bool
}

// NewPlane returns the plane through origin (m). Its far side is the side that normal points to.
// The normal can have any length above 0, but must not lie along y.
//
// The parameter u runs in the section of constant y, towards +x where the far side is below (+z).
// The parameter v runs at right angles to u. Where the normal has no y component, v is the
// coordinate y.
func NewPlane(origin, normal r3.Vec) (Surface, error) {
	if err := checkFinite("origin of the plane", origin); err != nil {
		return nil, err
	}
	if err := checkFinite("normal of the plane", normal); err != nil {
		return nil, err
	}
	y, n := r3.Vec{Y: 1}, unit(normal)
	// With the normal n = U × V and V near y, U is along y × n.
	u := r3.Cross(y, n)
	if !(r3.Norm(u) > 1e-9) {
		return nil, fmt.Errorf("wedge: normal of the plane %v: want a vector that is not zero and not along y",
			normal)
	}
	p := &plane{origin: origin, normal: n, u: r3.Unit(u)}
	p.v = r3.Cross(p.normal, p.u)
	if n.Y == 0 {
		p.v = y
		p.origin.Y = 0
		p.extruded = true
	}
	return p, nil
}

// HorizontalPlane returns the plane at depth z (m). Its far side is below (+z).
func HorizontalPlane(z float64) (Surface, error) {
	return NewPlane(r3.Vec{Z: z}, r3.Vec{Z: 1})
}

func (p *plane) At(u, v float64) Patch {
	return Patch{
		P: r3.Vec{
			X: p.origin.X + u*p.u.X + v*p.v.X,
			Y: p.origin.Y + u*p.u.Y + v*p.v.Y,
			Z: p.origin.Z + u*p.u.Z + v*p.v.Z,
		},
		U: p.u,
		V: p.v,
	}
}

func (p *plane) Locate(q r3.Vec) (u, v float64) {
	d := r3.Sub(q, p.origin)
	return r3.Dot(d, p.u), r3.Dot(d, p.v)
}

func (p *plane) Depth(q r3.Vec) float64 { return r3.Dot(r3.Sub(q, p.origin), p.normal) }

func (p *plane) Extruded() bool { return p.extruded }
