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

// square is the edge of a plate with a root face as long as the other's, and
// straight above it.
func square(depth float64) edge { return edge{upper: bevel{depth: depth}} }

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
	left, right := p.Bevelled.edges(e, square(e.upper.depth))
	return p.groove(left, right, p.RootFace, false)
}

// DoubleV is a double-V preparation: both edges bevelled from both surfaces down to
// root faces between them.
type DoubleV struct {
	Butt
	Angle      float64 // bevel angle above the root face: rad, 0 to below π/2
	LowerAngle float64 // and below it: rad; 0 stands for the same
	RootFace   float64 // m, 0 to below the thickness
	Depth      float64 // of the upper end of the root face: m; 0 stands for a root face in the middle
}

// Joint implements [Preparation].
func (p DoubleV) Joint() (*Joint, error) {
	e, err := p.single(p.Angle, 0, p.RootFace)
	if err != nil {
		return nil, err
	}
	depth, lower := p.Depth, p.LowerAngle
	if depth == 0 {
		depth = (p.Thickness - p.RootFace) / 2
	}
	if lower == 0 {
		lower = p.Angle
	}
	if err := first(
		checkRange("depth of the root face", depth, 0, p.Thickness-p.RootFace),
		checkAngle("lower bevel angle", lower),
	); err != nil {
		return nil, err
	}
	e.upper.depth = depth
	e.lower = bevel{angle: lower, depth: p.Thickness - p.RootFace - depth}
	return p.groove(e, e, p.RootFace, true)
}
