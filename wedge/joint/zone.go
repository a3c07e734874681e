// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Zone is the kind of material at a point of a joint.
type Zone uint8

// The zones of a joint.
const (
	Outside      Zone = iota // neither part nor weld metal: air, or a gap
	WeldMetal                // its boundary included
	HeatAffected             // parent part, near a fusion face
	Parent                   // parent part elsewhere
)

// String returns the name of the zone.
func (z Zone) String() string {
	switch z {
	case Outside:
		return "outside"
	case WeldMetal:
		return "weld metal"
	case HeatAffected:
		return "heat-affected zone"
	case Parent:
		return "parent metal"
	}
	return fmt.Sprintf("Zone(%d)", uint8(z))
}

// Nearest is the position of a point relative to a fusion face.
type Nearest struct {
	Face        Face    // the face; for [Joint.Nearest] the first one if several are equally near
	Distance    float64 // from the face, m, below 0 within the weld metal
	Foot        r2.Vec  // the point of the face that is nearest, m
	Share       float64 // position of the foot as a share of the length of the face, in [0, 1]
	Inclination float64 // of the face at the foot, rad, as Face.Inclination returns it
}

// Nearest returns the position of p (m) relative to the nearest fusion face. All numbers are NaN if
// p is not finite.
func (j *Joint) Nearest(p r2.Vec) Nearest {
	if nan := math.NaN(); !finite(p) {
		return Nearest{Distance: nan, Foot: r2.Vec{X: nan, Y: nan}, Share: nan, Inclination: nan}
	}
	return slices.MinFunc(j.FromFaces(p), func(a, b Nearest) int {
		return cmp.Compare(math.Abs(a.Distance), math.Abs(b.Distance))
	})
}

// FromFaces returns the position of p (m) relative to each fusion face, in the order of Faces. It
// is nil if p is not finite.
func (j *Joint) FromFaces(p r2.Vec) (all []Nearest) {
	if !finite(p) {
		return nil
	}
	sign := 1.0
	if j.inMetal(p) {
		sign = -1
	}
	for _, f := range j.Faces {
		share := f.nearest(p)
		foot := f.At(share)
		all = append(all, Nearest{f, sign * r2.Norm(r2.Sub(p, foot)), foot, share, f.Inclination(share)})
	}
	return all
}

// Zone returns the zone at p (m). The heat-affected zone is the parent part within the given width
// of a fusion face (m, 0 or more). A point that is not finite lies outside.
func (j *Joint) Zone(p r2.Vec, width float64) Zone {
	switch {
	case !finite(p):
		return Outside
	case j.inMetal(p) || within(j.metal, p):
		return WeldMetal
	case !within(j.parts, p):
		return Outside
	case j.Nearest(p).Distance <= width:
		return HeatAffected
	}
	return Parent
}

// inMetal reports whether p lies inside of weld metal.
func (j *Joint) inMetal(p r2.Vec) bool {
	for _, o := range j.metal {
		if o.contains(p) {
			return true
		}
	}
	return false
}

// within reports whether p lies in one of the outlines, or on its boundary.
func within(outlines []outline, p r2.Vec) bool {
	for _, o := range outlines {
		if o.contains(p) || o.distance(p) <= tolerance {
			return true
		}
	}
	return false
}

func finite(p r2.Vec) bool { return number.Finite(p.X) && number.Finite(p.Y) }
