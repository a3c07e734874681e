// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// slowest returns the speed of the slowest wave of a view in the part, in m/s.
func slowest(r *npy.Record, v wedge.View) float64 {
	speed := r.Part.Longitudinal
	for _, modes := range [][]material.Mode{v.Transmit, v.Receive} {
		for _, m := range modes {
			if m == material.T {
				speed = r.Part.Transverse
			}
		}
	}
	return speed
}

// suggestX returns a range along the surface in whole millimetres. For normal incidence the range is
// a little wider than the array. In front of a wedge it is the reach of beams of 14 to 63 degrees
// from the point where the normal of the array enters the part.
func suggestX(r *npy.Record) span {
	elements, thickness := r.Capture.Array.Elements, r.Thickness
	first, last := elements[0], elements[len(elements)-1]
	if first.X > last.X {
		first, last = last, first
	}
	x := span{first.X - thickness/4, last.X + thickness/4}
	if first.Z != last.Z && first.X != last.X {
		// The normal through the middle of the array meets z = 0 at exit.
		slope := (last.Z - first.Z) / (last.X - first.X)
		exit := (first.X+last.X)/2 + slope*(first.Z+last.Z)/2
		near, far := thickness/4, 2*thickness
		if slope > 0 { // the array falls towards +x, and fires towards -x
			near, far = -far, -near
		}
		x = span{exit + near, exit + far}
	}
	return span{math.Floor(x.from*1e3) * 1e-3, math.Ceil(x.to*1e3) * 1e-3}
}

// suggestZ returns a range in depth in whole millimetres: from below the echoes of the entry
// surface to beyond the back wall.
func suggestZ(r *npy.Record, v wedge.View) span {
	// The ring-down of the elements, or the echo of the surface, lasts two to three
	// wavelengths (common practice, no source).
	dead := 2.0
	if r.Coupling == nil {
		dead = 3
	}
	top := min(dead*slowest(r, v)/r.Capture.Array.CentreFrequency, r.Thickness/4)
	return span{math.Floor(top*1e3) * 1e-3, (math.Ceil(r.Thickness*1e3) + 1) * 1e-3}
}
