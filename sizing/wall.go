// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// Wall is the wall of a part between the surface where the sound enters and the opposite surface,
// such as a plate or the wall of a pipe. [NewWall] makes it.
type Wall struct {
	near, far wedge.Surface
}

// NewWall returns the wall between two surfaces, such as the entry surface and the back wall of an
// inspection. The far side of near and the near side of far are inside the wall. Neither may be
// nil.
func NewWall(near, far wedge.Surface) (Wall, error) {
	if near == nil {
		return Wall{}, errors.New("sizing: near surface of the wall is missing")
	}
	if far == nil {
		return Wall{}, errors.New("sizing: far surface of the wall is missing")
	}
	return Wall{near: near, far: far}, nil
}

// Place is the position of a point in a wall, in metres.
type Place struct {
	// Along is the distance along the near surface from its origin to the foot of the point,
	// positive towards +x. On a plate it is x. On a pipe it is the arc on the surface from the
	// top, at most half of the circumference in each direction. On a profile it is x, which is
	// close to the distance along the surface where the profile is not steep.
	Along float64 `json:"along_m"`

	// Depth is the distance below the near surface, negative above it.
	Depth float64 `json:"depth_m"`

	// Remaining is the distance to the far surface, negative beyond it.
	Remaining float64 `json:"remaining_m"`
}

// Place returns the position in the wall of a point whose coordinates are in metres. All fields are
// NaN if a coordinate is not finite, and for the zero Wall.
func (w Wall) Place(p r3.Vec) Place {
	sum := p.X*0 + p.Y*0 + p.Z*0 // NaN or Inf anywhere makes it NaN
	if w.near == nil || w.far == nil || sum != 0 {
		return Place{Along: math.NaN(), Depth: math.NaN(), Remaining: math.NaN()}
	}
	along, _ := w.near.Locate(p)
	return Place{Along: along, Depth: w.near.Depth(p), Remaining: -w.far.Depth(p)}
}

// Span is where an indication lies in a wall, in metres.
type Span struct {
	Peak Place `json:"peak"`

	// Along holds the ends of the contour along the near surface, lower end first. On a pipe Along
	// jumps at the line opposite to the origin. A contour across this line has ends on both sides
	// of the jump.
	Along [2]float64 `json:"extent_along_m"`

	// Depth holds the least and the greatest depth of the contour.
	Depth [2]float64 `json:"extent_depth_m"`

	// NearLigament and FarLigament are the thicknesses of wall left between the contour and the
	// near and the far surface. If a ligament is 0 or below, the contour reaches the surface, and
	// the flaw may reach it too.
	NearLigament float64 `json:"near_ligament_m"`
	FarLigament  float64 `json:"far_ligament_m"`
}

// Span returns where an indication that [Find] returned lies in the wall. The ligaments are
// ligaments of the contour, not of the flaw: see the cautions in the package documentation.
func (w Wall) Span(in Indication) Span {
	var along, depth bounds
	remaining := math.Inf(1)
	for _, point := range in.Contour {
		p := w.Place(point)
		along.add(p.Along)
		depth.add(p.Depth)
		remaining = min(remaining, p.Remaining)
	}
	return Span{
		Peak:         w.Place(r3.Vec{X: in.X, Z: in.Z}),
		Along:        [2]float64{along.from, along.to},
		Depth:        [2]float64{depth.from, depth.to},
		NearLigament: depth.from,
		FarLigament:  remaining,
	}
}
