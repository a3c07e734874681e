// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/wedge"
)

// Taper is how a plate of a butt joint gets thicker away from the weld, from its toes
// on. The zero value is none. Two plates that are flush on the entry side differ in
// Below only, two that are flush on the far side in Above only; where the thicker one
// is centred both are half of the difference.
type Taper struct {
	Above float64 // by how much the plate rises over its entry surface at the weld: m, 0 or more
	Below float64 // by how much it reaches below its back wall there: m, 0 or more
	Angle float64 // between the tapered surface and the plate: rad, above 0 to π/2; 0 stands for π/2, a step
}

// validate reports the first field that is out of range.
func (t Taper) validate(name string) error {
	if !(t.Angle >= 0 && t.Angle <= math.Pi/2) {
		return fmt.Errorf("joint: angle of the %s %v rad: want 0 to π/2 rad", name, t.Angle)
	}
	return first(
		checkRange("rise above of the "+name, t.Above, 0, Extent/2),
		checkRange("rise below of the "+name, t.Below, 0, Extent/2),
	)
}

// length returns how far along x the taper goes for a rise.
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

// surface returns the one over the toes: the entry surface, where the plates rise
// towards -z, if the sign is -1, and the back wall if it is 1.
func (b Butt) surface(toes [2]r2.Vec, bead Bead, sign float64) surface {
	s := surface{toes: toes, height: sign * bead.Height}
	for i, t := range []Taper{b.LeftTaper, b.RightTaper} {
		rise, side := t.Above, 2*float64(i)-1
		if sign > 0 {
			rise = t.Below
		}
		s.flat[i] = r2.Add(toes[i], r2.Vec{X: side * t.length(rise), Y: sign * rise})
	}
	return s
}

// level reports whether both plates are at the same depth away from the weld.
func (s surface) level() bool { return math.Abs(s.flat[0].Y-s.flat[1].Y) <= tolerance }

// gaps returns where the surfaces of the left and of the right plate are missing.
func (s surface) gaps() (left, right []wedge.Interval) {
	switch x0, x1 := s.flat[0].X, s.flat[1].X; {
	case !s.level():
		return []wedge.Interval{{Min: x0, Max: math.Inf(1)}}, []wedge.Interval{{Min: math.Inf(-1), Max: x1}}
	case s.height != 0 || s.flat[0].Y != s.toes[0].Y || s.flat[1].Y != s.toes[1].Y:
		both := []wedge.Interval{{Min: x0, Max: x1}}
		return both, both
	}
	return nil, nil // the weld is flush
}

// outside returns the whole surface, from the left end to the right.
func (s surface) outside(name string) Outline {
	edges := line(r2.Vec{X: -Extent, Y: s.flat[0].Y}, s.flat[0], s.toes[0])
	edges = appendCurve(edges, Curve{s.toes[0], s.toes[1], s.height})
	return Outline{name, append(edges, line(s.toes[1], s.flat[1], r2.Vec{X: Extent, Y: s.flat[1].Y})...)}
}
