// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Zone is what lies at a point of a joint.
type Zone uint8

// The zones of a joint.
const (
	Outside      Zone = iota // neither part nor weld metal: air, or a gap
	WeldMetal                // its edge included
	HeatAffected             // the parent part, nearer to a fusion face than the width of the heat-affected zone
	Parent                   // the parent part elsewhere
)

// String returns the name of z.
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

// Nearest is where a point lies from the fusion faces.
type Nearest struct {
	Face     Face    // the nearest one; the first of several that are
	Distance float64 // m, below 0 within the weld metal
	Foot     r2.Vec  // the point of the face nearest to it, m
	Share    float64 // of the length of the face at the foot, in [0, 1]
	// Inclination is that of the face at the foot, see [Curve.Inclination].
	Inclination float64
}

// Nearest returns where p (m) lies from the nearest fusion face. It is NaN of a
// point that is not finite.
func (j *Joint) Nearest(p r2.Vec) Nearest {
	if !finite(p) {
		return Nearest{Distance: math.NaN(), Foot: r2.Vec{X: math.NaN(), Y: math.NaN()}, Share: math.NaN(), Inclination: math.NaN()}
	}
	n := Nearest{Distance: math.Inf(1)}
	for _, f := range j.Faces {
		share := f.nearest(p)
		foot := f.At(share)
		if d := r2.Norm(r2.Sub(p, foot)); d < n.Distance {
			n = Nearest{f, d, foot, share, f.Inclination(share)}
		}
	}
	if j.inMetal(p) {
		n.Distance = -n.Distance
	}
	return n
}

// Zone returns what lies at p (m), where the heat-affected zone has the given width
// (m, 0 or more). A point that is not finite lies outside.
func (j *Joint) Zone(p r2.Vec, width float64) Zone {
	switch {
	case !finite(p):
		return Outside
	case j.inMetal(p) || within(j.Metal, p):
		return WeldMetal
	case !within(j.Parts, p):
		return Outside
	case j.Nearest(p).Distance <= width:
		return HeatAffected
	}
	return Parent
}

// inMetal reports whether p lies inside of weld metal.
func (j *Joint) inMetal(p r2.Vec) bool {
	for _, o := range j.Metal {
		if o.Contains(p) {
			return true
		}
	}
	return false
}

// within reports whether p lies in one of the outlines, or on its edge.
func within(outlines []Outline, p r2.Vec) bool {
	for _, o := range outlines {
		if o.Contains(p) || o.distance(p) <= tolerance {
			return true
		}
	}
	return false
}

func finite(p r2.Vec) bool { return p.X*0+p.Y*0 == 0 }
