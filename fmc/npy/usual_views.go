// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// ends returns the outer elements of the array, the one with the smaller x first.
func (r *Record) ends() (left, right r3.Vec) {
	elements := r.Capture.Array.Elements
	left, right = elements[0], elements[len(elements)-1]
	if left.X > right.X {
		left, right = right, left
	}
	return left, right
}

// Incidence returns the angle in radians between the normal of the array and the vertical, for a
// record whose capture is valid. It is positive for an array that fires towards +x, and 0 for an
// array of one element or along z.
func (r *Record) Incidence() float64 {
	left, right := r.ends()
	if left.X == right.X {
		return 0
	}
	return -math.Atan((right.Z - left.Z) / (right.X - left.X))
}

// CriticalAngle returns the first critical angle of the coupling medium and the part in radians:
// beyond it no longitudinal wave enters the part. It is π/2 if there is no such angle.
func (r *Record) CriticalAngle() float64 {
	if r.Coupling == nil {
		return math.Pi / 2
	}
	return math.Asin(min(1, r.Coupling.Longitudinal/r.Part.Longitudinal))
}

// UsualViews returns the views in which such a set-up is usually imaged. They follow from the wave
// that the middle of the array sends into the part: L-L for a longitudinal wave; T-T, TT-T and
// TT-TT beyond the first critical angle. A weld with grains has T-T alone there, because rays with
// skips take long (common practice, no source).
func (r *Record) UsualViews() []wedge.View {
	l, t := []material.Mode{material.L}, []material.Mode{material.T}
	skip := []material.Mode{material.T, material.T}
	switch {
	case r.Part.Transverse == 0 || !(math.Abs(r.Incidence()) >= r.CriticalAngle()):
		return []wedge.View{{Transmit: l, Receive: l}}
	case r.Weld != nil:
		return []wedge.View{{Transmit: t, Receive: t}}
	}
	return []wedge.View{{Transmit: t, Receive: t}, {Transmit: skip, Receive: t}, {Transmit: skip, Receive: skip}}
}

// UsualSection returns opposite corners of the section that a view usually shows, (x, 0, z) in
// whole millimetres, in m. Below an array that is level, it is a little wider than the array. In
// front of a wedge it holds what beams of 14° to 63° reach. It begins below the echoes of the
// entry surface, and ends beyond the back wall.
func (r *Record) UsualSection(v wedge.View) (from, to r3.Vec) {
	left, right := r.ends()
	from.X, to.X = left.X-r.Thickness/4, right.X+r.Thickness/4
	if slope := math.Tan(r.Incidence()); slope != 0 {
		// The normal through the middle of the array meets z = 0 at exit.
		exit := (left.X+right.X)/2 - slope*(left.Z+right.Z)/2
		near, far := r.Thickness/4, 2*r.Thickness
		if slope < 0 {
			near, far = -far, -near
		}
		from.X, to.X = exit+near, exit+far
	}
	speed := r.Part.Longitudinal
	if slices.Contains(v.Transmit, material.T) || slices.Contains(v.Receive, material.T) {
		speed = r.Part.Transverse
	}
	// The ring-down of the elements, or the echo of the surface, lasts two to three wavelengths
	// (common practice, no source).
	dead := 2.0
	if r.Coupling == nil {
		dead = 3
	}
	from.Z = min(dead*speed/r.Capture.Array.CentreFrequency, r.Thickness/4)
	from.X, from.Z = math.Floor(from.X*1e3)*1e-3, math.Floor(from.Z*1e3)*1e-3
	to.X, to.Z = math.Ceil(to.X*1e3)*1e-3, (math.Ceil(r.Thickness*1e3)+1)*1e-3
	return from, to
}
