// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"cmp"
	"fmt"
	"math"
)

// Edge is the preparation of one edge of a plate. The zero value is a square edge.
type Edge struct {
	Upper Bevel // from the entry surface down to the root face
	Lower Bevel // from the root face down to the back wall; only with a lower groove
}

// Bevel is the preparation of an edge from one surface of the plate to the root face. The zero
// value is a square edge.
type Bevel struct {
	// Angle is the angle between the fusion face and the z axis in rad, 0 to below π/2.
	Angle float64
	// Radius is the root radius of a U or J preparation in m, 0 or more; 0 stands for a V or bevel
	// preparation. The arc meets the root face at a right angle and must begin within the groove.
	Radius float64
}

// bevel is a bevel in a groove.
type bevel struct {
	Bevel
	depth float64 // distance of the root face from the surface, m
}

// check returns an error that names the first value that is out of range.
func (b bevel) check(lower, edge string) error {
	if b.depth < least && b.Bevel != (Bevel{}) {
		return fmt.Errorf("joint: %sbevel %+v of the %s in a groove of %v m: "+
			"want a depth above %v m, or no bevel", lower, b.Bevel, edge, b.depth, least)
	}
	largest := b.depth / (1 - math.Sin(b.Angle)) // where the arc begins at the surface
	return cmp.Or(
		checkAngle(lower+"bevel angle of the "+edge, b.Angle),
		checkRange(lower+"root radius of the "+edge, b.Radius, 0, largest),
	)
}

// tangent returns the place where the arc begins: its distance w from the root face along x, and
// its depth z below the surface.
func (b bevel) tangent() (w, z float64) {
	sin, cos := math.Sincos(b.Angle)
	return b.Radius * cos, b.depth - b.Radius*(1-sin)
}

// width returns the distance along x from the root face to the end of the bevel at the surface.
func (b bevel) width() float64 {
	w, z := b.tangent()
	return w + z*math.Tan(b.Angle)
}

// sagitta returns the height of the arc over its chord.
func (b bevel) sagitta() float64 { return b.Radius * (1 - math.Cos((math.Pi/2-b.Angle)/2)) }

// name returns the name of the fusion face.
func (b bevel) name() string {
	if b.Bevel == (Bevel{}) {
		return "square edge"
	}
	return "bevel"
}
