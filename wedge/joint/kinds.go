// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import "math"

// Side is a side of a joint, seen with +x to the right.
type Side uint8

// The sides of a joint.
const (
	Right Side = iota
	Left
)

// edges returns the left and the right edge where the one on the side is prepared and the
// other is square.
func (s Side) edges(prepared edge, square edge) (left, right edge) {
	if s == Left {
		return prepared, square
	}
	return square, prepared
}

// square is the edge of a plate with a root face where the other has it, and straight
// above and below it.
func (e edge) square() edge {
	return edge{upper: bevel{depth: e.upper.depth}, lower: bevel{depth: e.lower.depth}}
}

// SquareButt is a square preparation: both edges straight. Each is a root face.
type SquareButt struct{ Butt }

// Joint implements [Preparation].
func (p SquareButt) Joint() (*Joint, error) { return p.groove(edge{}, edge{}, p.Thickness, false) }

// SingleV is a single-V preparation: both edges bevelled from the entry surface down
// to the root faces.
type SingleV struct {
	Butt
	Angle    float64 // bevel angle of each edge, half the groove angle: rad, 0 to below π/2
	RootFace float64 // height of the root face (land): m, 0 to below the thickness
}

// Joint implements [Preparation].
func (p SingleV) Joint() (*Joint, error) {
	e, err := p.single(p.Angle, 0, p.RootFace)
	if err != nil {
		return nil, err
	}
	return p.groove(e, e, p.RootFace, false)
}

// single returns the edge of a single preparation.
func (b Butt) single(angle, radius, rootFace float64) (edge, error) {
	depth := b.Thickness - rootFace
	err := first(
		checkPositive("thickness", b.Thickness),
		checkAngle("bevel angle", angle),
		checkRange("root face", rootFace, 0, math.Nextafter(b.Thickness, 0)),
	)
	if err == nil {
		// The arc must begin below the surface.
		err = checkRange("root radius", radius, 0, depth/(1-math.Sin(angle)))
	}
	return edge{upper: bevel{angle, radius, depth}}, err
}

// SingleBevel is a single-bevel preparation (half V): one edge bevelled, the other
// square.
type SingleBevel struct {
	Butt
	Angle    float64 // bevel angle: rad, 0 to below π/2
	RootFace float64 // m, 0 to below the thickness
	Bevelled Side    // the edge that is
}

// Joint implements [Preparation].
func (p SingleBevel) Joint() (*Joint, error) {
	return SingleJ{p.Butt, p.Angle, p.RootFace, 0, p.Bevelled}.Joint()
}

// SingleU is a single-U preparation: both edges bevelled, each bevel rounded into
// the upper end of the root face by an arc that ends across the plate.
type SingleU struct {
	Butt
	Angle    float64 // bevel angle of each edge: rad, 0 to below π/2
	RootFace float64 // m, 0 to below the thickness
	Radius   float64 // root radius: m, 0 to where the arc reaches the surface
}

// Joint implements [Preparation].
func (p SingleU) Joint() (*Joint, error) {
	e, err := p.single(p.Angle, p.Radius, p.RootFace)
	if err != nil {
		return nil, err
	}
	return p.groove(e, e, p.RootFace, false)
}

// SingleJ is a single-J preparation: one edge as of a [SingleU], the other square.
type SingleJ struct {
	Butt
	Angle    float64 // bevel angle: rad, 0 to below π/2
	RootFace float64 // m, 0 to below the thickness
	Radius   float64 // root radius: m, 0 to where the arc reaches the surface
	Bevelled Side    // the edge that is
}

// Joint implements [Preparation].
func (p SingleJ) Joint() (*Joint, error) {
	e, err := p.single(p.Angle, p.Radius, p.RootFace)
	if err != nil {
		return nil, err
	}
	left, right := p.Bevelled.edges(e, e.square())
	return p.groove(left, right, p.RootFace, false)
}
