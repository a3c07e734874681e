// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Surface is a smooth boundary between two media. Two parameters u and v give a point of it. They
// measure lengths along the surface, in metres.
//
// A surface has a near side and a far side. The far side of an entry surface is the part. The far
// side of a back wall lies beyond the part.
//
// An implementation must be safe for concurrent use. The surfaces of this package are safe.
//
// # Surfaces of other packages
//
// A user can implement further surfaces. All functions of this package take them, with the same
// results, except for:
//
//   - [Derivatives] hold depths of points only for a surface of [NewProfile] or [NewSmoothProfile];
//   - [Path.Rays] and [Path.Branches] need extruded surfaces, of this package or of another.
//
// They are slower, because this package has formulas of its own only for its own surfaces. Planes
// of this package have the fastest tables. For planes, cylinders, cones and spheres it knows on
// which side a straight leg cannot pass through the surface, and often that only one ray leads to a
// point. Along any other surface each leg is checked, in steps of Depth.
//
// The search for rays relies on these promises: At is twice differentiable, and its derivatives are
// those of the points; Depth is a true distance or less, and its sign is the side; Locate returns a
// nearest point; the normal U × V points to the far side.
type Surface interface {
	// At returns the surface around the point with the parameters u and v.
	At(u, v float64) Patch
	// Locate returns the parameters of the point of the surface that is nearest to p.
	Locate(p r3.Vec) (u, v float64)
	// Depth returns the distance of p from the surface in metres, positive on the far side.
	Depth(p r3.Vec) float64
	// Extruded reports whether the surface is the same in every section of constant y, with v = y
	// and u along the section. A ray between two points of one section then stays in the section,
	// and u alone is solved for.
	Extruded() bool
}

// Patch describes a surface around one of its points, to the second order.
type Patch struct {
	P          r3.Vec // the point, m
	U, V       r3.Vec // first derivatives with respect to u and v
	UU, UV, VV r3.Vec // second derivatives, 1/m
}

// Normal returns the unit normal along U × V, which points to the far side.
func (p Patch) Normal() r3.Vec { return r3.Unit(r3.Cross(p.U, p.V)) }

// finite reports whether all components of p are finite.
func finite(p r3.Vec) bool {
	sum := p.X*0 + p.Y*0 + p.Z*0
	return sum == 0
}

// unit returns the unit vector along v, which is finite and not zero. It also works where the
// length of v, or the inverse of the length, is not finite.
func unit(v r3.Vec) r3.Vec {
	largest := max(math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z))
	return r3.Unit(r3.Vec{X: v.X / largest, Y: v.Y / largest, Z: v.Z / largest})
}

// checkSurface returns an error that names the surface, if it is nil or has no place with a normal,
// such as the zero value of a type.
func checkSurface(name string, s Surface) error {
	if s == nil {
		return fmt.Errorf("wedge: %s is missing: want a surface, as NewPlane and NewProfile make it", name)
	}
	valid := func(p Patch) bool {
		return finite(p.P) && r3.Norm(r3.Cross(p.U, p.V)) > leastNormal && finite(r3.Cross(p.U, p.V))
	}
	if valid(s.At(0, 0)) {
		return nil
	}
	for _, q := range [...]r3.Vec{{Z: -1}, {Z: 1}, {X: 0.1, Y: 0.1}} {
		if valid(s.At(s.Locate(q))) {
			return nil
		}
	}
	return fmt.Errorf("wedge: %s (%T) has no normal: want a surface from its constructor", name, s)
}

// checkFinite returns an error that names the point, unless the point is finite.
func checkFinite(name string, p r3.Vec) error {
	if !finite(p) {
		return fmt.Errorf("wedge: %s %v: want finite coordinates", name, p)
	}
	return nil
}

// checkPositive returns an error that names the quantity, unless value is finite and above 0.
func checkPositive(name string, value float64, unit string) error {
	if !number.Positive(value) {
		return fmt.Errorf("wedge: %s %v %s: want a finite value above 0", name, value, unit)
	}
	return nil
}
