// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"cmp"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/wedge"
)

// Taper makes a plate of a butt joint thicker away from the weld. The taper begins at the toe of
// the weld. The zero value is no taper. Plates that are flush on the entry side differ in Below
// only. Plates that are flush on the far side differ in Above only. Where the thicker plate is
// centred, Above and Below are both half of the difference.
type Taper struct {
	Above float64 // rise of the entry surface above the surface at the weld, m, 0 or more
	Below float64 // fall of the back wall below the back wall at the weld, m, 0 or more
	// Angle is the angle between the tapered surface and the plate in rad, above 0 to π/2; 0 stands
	// for π/2, a step.
	Angle float64
}

// validate returns an error that names the first field that is out of range.
func (t Taper) validate(name string) error {
	if !(t.Angle >= 0 && t.Angle <= math.Pi/2) {
		return fmt.Errorf("joint: angle of the %s %v rad: want 0 to π/2 rad", name, t.Angle)
	}
	return cmp.Or(
		checkRange("rise above of the "+name, t.Above, 0, extent/2),
		checkRange("rise below of the "+name, t.Below, 0, extent/2),
	)
}

// length returns the length of the taper along x for a rise.
func (t Taper) length(rise float64) float64 {
	if t.Angle == 0 {
		return 0
	}
	return rise / math.Tan(t.Angle)
}

// surface is the entry surface or the back wall of a butt joint across the weld.
type surface struct {
	toes   [2]r2.Vec // of the weld, left and right
	flat   [2]r2.Vec // where the plates begin to be flat
	height float64   // of the bead, above 0 towards +z
}

// surface returns the surface at the toes: the entry surface for the sign -1, the back wall for the
// sign +1. The plates rise towards -z on the entry surface and towards +z on the back wall.
func (b Butt) surface(ends toes, bead Bead, sign float64) surface {
	s := surface{toes: [2]r2.Vec{ends.left, ends.right}, height: sign * bead.Height}
	for i, t := range []Taper{b.LeftTaper, b.RightTaper} {
		rise, side := t.Above, 2*float64(i)-1
		if sign > 0 {
			rise = t.Below
		}
		s.flat[i] = r2.Add(s.toes[i], r2.Vec{X: side * t.length(rise), Y: sign * rise})
	}
	return s
}

// level reports whether both plates are at the same depth away from the weld.
func (s surface) level() bool { return math.Abs(s.flat[0].Y-s.flat[1].Y) <= tolerance }

// gaps returns the ranges of x in which the left plate and the right plate have no surface.
func (s surface) gaps() (left, right []wedge.Interval) {
	switch x0, x1 := s.flat[0].X, s.flat[1].X; {
	case !s.level():
		left = []wedge.Interval{{Min: x0, Max: math.Inf(1)}}
		right = []wedge.Interval{{Min: math.Inf(-1), Max: x1}}
		return left, right
	case s.height != 0 || s.flat[0].Y != s.toes[0].Y || s.flat[1].Y != s.toes[1].Y:
		both := []wedge.Interval{{Min: x0, Max: x1}}
		return both, both
	}
	return nil, nil // the weld is flush
}

// outside returns the whole surface, from the left end to the right end.
func (s surface) outside(name string) outline {
	edges := line(r2.Vec{X: -extent, Y: s.flat[0].Y}, s.flat[0], s.toes[0])
	edges = appendCurve(edges, curve{s.toes[0], s.toes[1], s.height})
	edges = append(edges, line(s.toes[1], s.flat[1], r2.Vec{X: extent, Y: s.flat[1].Y})...)
	return outline{name, edges}
}
