// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Status tells how the search for a ray ended.
type Status uint8

// The ends of a search.
const (
	OK           Status = iota // the search found a stationary path
	StartOutside               // no ray of this path can start at the start
	EndOutside                 // no ray of this path can end at the end, as outside the part
	WrongSide                  // the stationary path comes to a surface from the wrong side
	NotConverged               // the search found no stationary path
	Obstructed                 // a leg leaves its medium and comes back, or passes through a void
	OffContact                 // the ray enters the part beyond the contact length of the wedge
	OffSurface                 // the ray meets a surface where the surface is missing
	LimitMet                   // the search met a limit before it found a path; there may be one
)

// String returns the name of s.
func (s Status) String() string {
	switch s {
	case OK:
		return "OK"
	case StartOutside:
		return "StartOutside"
	case EndOutside:
		return "EndOutside"
	case WrongSide:
		return "WrongSide"
	case NotConverged:
		return "NotConverged"
	case Obstructed:
		return "Obstructed"
	case OffContact:
		return "OffContact"
	case OffSurface:
		return "OffSurface"
	case LimitMet:
		return "LimitMet"
	}
	return fmt.Sprintf("Status(%d)", uint8(s))
}

// ErrNoRay is wrapped by every error that [Status.Err] returns.
var ErrNoRay = errors.New("no ray")

// Err returns nil for [OK], otherwise an error that says why there is no ray.
func (s Status) Err() error {
	switch s {
	case OK:
		return nil
	case StartOutside:
		return fmt.Errorf("wedge: %w: the start is not finite or not on the side of the first surface where the path begins",
			ErrNoRay)
	case EndOutside:
		return fmt.Errorf("wedge: %w: the end is not finite or lies outside the part", ErrNoRay)
	case WrongSide:
		return fmt.Errorf("wedge: %w: the stationary path crosses a surface from the wrong side",
			ErrNoRay)
	case Obstructed:
		return fmt.Errorf("wedge: %w: a leg of the stationary path leaves its medium and comes back, or passes through a void",
			ErrNoRay)
	case OffContact:
		return fmt.Errorf("wedge: %w: the stationary path enters the part beyond the contact length",
			ErrNoRay)
	case OffSurface:
		return fmt.Errorf("wedge: %w: the stationary path meets a surface in a gap of it, or beyond a side of the part",
			ErrNoRay)
	case LimitMet:
		return fmt.Errorf("wedge: %w: the search met a limit before it found a stationary path",
			ErrNoRay)
	}
	return fmt.Errorf("wedge: %w: the search found no stationary path", ErrNoRay)
}

// Ray is a path of stationary time between two points.
type Ray struct {
	Status Status
	Time   float64  // s; NaN unless Status is OK
	Points []r3.Vec // start, crossings, end, in m; empty unless Status is OK
	// Normals holds the unit normal of the surface at each crossing, towards the far side.
	Normals []r3.Vec
}

// reset sets the status of r and empties the rest.
func (r *Ray) reset(status Status) {
	r.Status, r.Time = status, math.NaN()
	r.Points, r.Normals = r.Points[:0], r.Normals[:0]
}

// record copies the solution of s.
func (r *Ray) record(s *solver) {
	r.Time = s.time
	r.Points = append(r.Points, s.points...)
	for i := range s.patches {
		r.Normals = append(r.Normals, s.patches[i].Normal())
	}
}

// Direction returns the unit vector along leg k in the direction of travel. Leg 0 leaves the start,
// leg len(Points)-2 arrives at the end. The vector is NaN for a leg of no length. Direction panics
// if r has no such leg.
func (r *Ray) Direction(k int) r3.Vec { return r3.Unit(r3.Sub(r.Points[k+1], r.Points[k])) }

// Angles returns the angle of incidence and the angle of departure at crossing k, in [0, π/2]
// radians. Both are measured between the leg and the normal of the surface. Angles panics if r has
// no such crossing.
func (r *Ray) Angles(k int) (incidence, departure float64) {
	return angle(r.Direction(k), r.Normals[k]), angle(r.Direction(k+1), r.Normals[k])
}

// angle returns the acute angle between two unit vectors in radians, accurate for small and large
// angles.
func angle(a, b r3.Vec) float64 {
	return math.Atan2(r3.Norm(r3.Cross(a, b)), math.Abs(r3.Dot(a, b)))
}

// Solve finds the ray of p from one point to another, both in m. If the Status of the ray is not
// [OK], the ray has the time NaN and no points.
//
// Where several paths are stationary, as under a concave surface, Solve returns the ray that it
// reaches from the straight line. [Path.Rays] finds all of them. Times have the accuracy of
// float64. For ends within a micrometre of a surface their relative error is up to 1e-7.
func (p *Path) Solve(from, to r3.Vec) Ray {
	var r Ray
	newSolver(p).Solve(&r, from, to)
	return r
}
