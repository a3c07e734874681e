// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import "math"

// DoubleV is a double-V preparation: both edges bevelled from both surfaces down to
// root faces between them. With an angle of 0 it is a square preparation that is welded
// from both sides. [Butt].Unwelded is then the land in the middle of a weld of
// partial penetration.
type DoubleV struct {
	Butt
	Angle      float64 // bevel angle above the root face: rad, 0 to below π/2
	LowerAngle float64 // and below it: rad; 0 stands for the same
	RootFace   float64 // m, 0 to below the thickness
	Depth      float64 // of the upper end of the root face: m; 0 stands for a root face in the middle
}

// Joint implements [Preparation].
func (p DoubleV) Joint() (*Joint, error) {
	return DoubleU{p.Butt, p.Angle, p.LowerAngle, p.RootFace, p.Depth, 0}.Joint()
}

// DoubleU is a double-U preparation: the bevels of a [DoubleV], each rounded into the
// root face by an arc that ends across the plate.
type DoubleU struct {
	Butt
	Angle      float64 // bevel angle above the root face: rad, 0 to below π/2
	LowerAngle float64 // and below it: rad; 0 stands for the same
	RootFace   float64 // m, 0 to below the thickness
	Depth      float64 // of the upper end of the root face: m; 0 stands for a root face in the middle
	Radius     float64 // root radius: m, 0 to where an arc reaches the surface
}

// Joint implements [Preparation].
func (p DoubleU) Joint() (*Joint, error) {
	e, err := p.double(p.Angle, p.LowerAngle, p.RootFace, p.Depth, p.Radius)
	if err != nil {
		return nil, err
	}
	return p.groove(e, e, p.RootFace, true)
}

// DoubleBevel is a double-bevel preparation (K): one edge bevelled from both surfaces,
// the other square.
type DoubleBevel struct {
	Butt
	Angle      float64 // bevel angle above the root face: rad, 0 to below π/2
	LowerAngle float64 // and below it: rad; 0 stands for the same
	RootFace   float64 // m, 0 to below the thickness
	Depth      float64 // of the upper end of the root face: m; 0 stands for a root face in the middle
	Bevelled   Side    // the edge that is
}

// Joint implements [Preparation].
func (p DoubleBevel) Joint() (*Joint, error) {
	return DoubleJ{p.Butt, p.Angle, p.LowerAngle, p.RootFace, p.Depth, 0, p.Bevelled}.Joint()
}

// DoubleJ is a double-J preparation: one edge as of a [DoubleU], the other square.
type DoubleJ struct {
	Butt
	Angle      float64 // bevel angle above the root face: rad, 0 to below π/2
	LowerAngle float64 // and below it: rad; 0 stands for the same
	RootFace   float64 // m, 0 to below the thickness
	Depth      float64 // of the upper end of the root face: m; 0 stands for a root face in the middle
	Radius     float64 // root radius: m, 0 to where an arc reaches the surface
	Bevelled   Side    // the edge that is
}

// Joint implements [Preparation].
func (p DoubleJ) Joint() (*Joint, error) {
	e, err := p.double(p.Angle, p.LowerAngle, p.RootFace, p.Depth, p.Radius)
	if err != nil {
		return nil, err
	}
	left, right := p.Bevelled.edges(e, e.square())
	return p.groove(left, right, p.RootFace, true)
}

// double returns the edge of a double preparation.
func (b Butt) double(angle, lower, rootFace, depth, radius float64) (edge, error) {
	if _, err := b.single(angle, 0, rootFace); err != nil {
		return edge{}, err
	}
	if depth == 0 {
		depth = (b.Thickness - rootFace) / 2
	}
	if lower == 0 {
		lower = angle
	}
	if err := first(
		checkRange("depth of the root face", depth, 0, b.Thickness-rootFace),
		checkAngle("lower bevel angle", lower),
	); err != nil {
		return edge{}, err
	}
	below := b.Thickness - rootFace - depth
	// The arcs must begin within the plate.
	largest := math.Min(depth/(1-math.Sin(angle)), below/(1-math.Sin(lower)))
	return edge{bevel{angle, radius, depth}, bevel{lower, radius, below}}, checkRange("root radius", radius, 0, largest)
}
