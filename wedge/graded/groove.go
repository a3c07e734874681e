// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// groove is the section of a V weld. Its two fusion faces are straight and mirror images of each
// other at the centre line. They go on beyond root and cap.
type groove struct {
	centre    float64 // x of the centre line, m
	root, cap float64 // depths of the narrow end and of the wide end, m
	halfRoot  float64 // half of the width at the root, m
	bevel     float64 // angle between each fusion face and the centre line, rad
}

// newGroove returns the groove of a joint, or an error if the joint is not a V weld.
func newGroove(weld *joint.Joint) (groove, error) {
	if weld == nil {
		return groove{}, fmt.Errorf("graded: joint is missing")
	}
	top, back := weld.Top, weld.Top+weld.Thickness
	if len(weld.Faces) != 2 ||
		!crosses(weld.Faces[0], top, back) || !crosses(weld.Faces[1], top, back) {
		return groove{}, fmt.Errorf("graded: joint with the fusion faces %q: "+
			"want two straight faces from the entry surface to the back wall", names(weld.Faces))
	}
	if o := weld.Other; o == nil ||
		!(math.Abs(o.Top-top)+math.Abs(o.Thickness-weld.Thickness) <= tolerance) {
		return groove{}, fmt.Errorf("graded: joint of plates %+v and %+v: "+
			"want the same surfaces on both sides", weld.Plate, o)
	}
	left, right := weld.Faces[0], weld.Faces[1]
	centre := (left.At(0).X + right.At(0).X) / 2
	if other := (left.At(1).X + right.At(1).X) / 2; !(math.Abs(other-centre) <= tolerance) {
		return groove{}, fmt.Errorf("graded: centre line at x = %v m on top and %v m below: "+
			"want fusion faces that are mirror images", centre, other)
	}
	g := groove{
		centre: centre, root: back, cap: top,
		halfRoot: (right.At(1).X - left.At(1).X) / 2, bevel: left.Inclination(0),
	}
	if g.bevel < 0 { // wide at the back wall
		g.root, g.cap, g.bevel = top, back, -g.bevel
		g.halfRoot = (right.At(0).X - left.At(0).X) / 2
	}
	if err := checkRange("root gap of the joint", 2*g.halfRoot, 2e-5, 2, " m"); err != nil {
		return groove{}, err
	}
	return g, checkRange("bevel angle of the joint", g.bevel, 0, 1.4, " rad")
}

// crosses reports whether a face is straight and goes from one depth to another.
func crosses(f joint.Face, top, back float64) bool {
	middle := r2.Scale(0.5, r2.Add(f.At(0), f.At(1)))
	return math.Abs(f.At(0).Y-top) <= tolerance && math.Abs(f.At(1).Y-back) <= tolerance &&
		r2.Norm(r2.Sub(f.At(0.5), middle)) <= tolerance
}

// names returns the names of faces.
func names(faces []joint.Face) []string {
	var out []string
	for _, f := range faces {
		out = append(out, f.Name)
	}
	return out
}

// up returns the sign of z from the root to the cap.
func (g groove) up() float64 { return math.Copysign(1, g.cap-g.root) }

// halfWidth returns the distance of the fusion faces from the centre line at the depth z, and its
// derivative by z. Below the root the width stops falling at a tenth of halfRoot.
func (g groove) halfWidth(z float64) (width, byZ float64) {
	slope := math.Tan(g.bevel) * g.up()
	width = g.halfRoot + slope*(z-g.root)
	if least := g.halfRoot / 10; width < least {
		return least, 0
	}
	return width, slope
}

// faces returns the left fusion face, the centre line and the right fusion face. The far side of
// each is the side towards +x.
func (g groove) faces() ([]wedge.Surface, error) {
	sin, cos := math.Sincos(g.bevel)
	tilt := g.up() * sin
	var out []wedge.Surface
	for _, f := range []struct{ x, nx, nz float64 }{
		{g.centre - g.halfRoot, cos, tilt},
		{g.centre, 1, 0},
		{g.centre + g.halfRoot, cos, -tilt},
	} {
		face, err := wedge.NewPlane(r3.Vec{X: f.x, Z: g.root}, r3.Vec{X: f.nx, Z: f.nz})
		if err != nil {
			return nil, err
		}
		out = append(out, face)
	}
	return out, nil
}
