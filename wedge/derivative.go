// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// Derivatives are the derivatives of the time of a ray with respect to everything on which it
// depends. With them one can compute the uncertainty of a time from the uncertainties of the
// set-up, and fit a set-up to measured times.
//
// By Fermat's principle a small shift of the crossings along their surfaces does not change the
// time. So only the explicit terms of the time count, and the derivatives are as exact as the ray.
type Derivatives struct {
	// Start and End are the derivatives with respect to the coordinates of the ends, in s/m. End is
	// the slowness vector of the ray at its end. Start is minus the slowness vector at its start.
	Start, End r3.Vec
	// Speeds holds the derivative with respect to the speed of each leg, in s/(m/s).
	Speeds []float64
	// Surfaces holds for each crossing the derivative with respect to a shift of the surface there,
	// in s/m. A surface that moves by the vector d at the crossing changes the time by the scalar
	// product of d and this vector. The vector lies along the normal, except for rounding errors,
	// because a shift of a surface within itself has no effect. A measured surface whose depth
	// changes by dz moves by (0, 0, dz).
	//
	// A surface that turns by the angle dα about the unit vector e through the point p, by the
	// right-hand rule, moves by dα·e × (q - p) at the crossing q.
	Surfaces []r3.Vec
	// Depths holds for each crossing on a surface of [NewProfile] or [NewSmoothProfile] the
	// derivative with respect to the depth of each point of the profile, in s/m. It holds nil for a
	// crossing on another surface. The points of a smooth profile are the smoothed points.
	Depths [][]float64
}

// Derivatives returns the derivatives of the time of a ray of p. It returns an error that wraps
// [ErrNoRay] if r is no ray, and an error if r is not a ray of p.
func (p *Path) Derivatives(r *Ray) (*Derivatives, error) {
	d, err := p.derivatives(r)
	if err != nil {
		return nil, err
	}
	for k, c := range p.crossings {
		var depths []float64
		if profile, ok := c.Surface.(*profile); ok {
			depths = profile.weights(r.Points[k+1].X)
			for i := range depths {
				depths[i] *= d.Surfaces[k].Z
			}
		}
		d.Depths = append(d.Depths, depths)
	}
	return d, nil
}

// derivatives returns the derivatives without the depths of profiles.
func (p *Path) derivatives(r *Ray) (*Derivatives, error) {
	if err := p.checkRay(r); err != nil {
		return nil, err
	}
	d := &Derivatives{}
	slowness := make([]r3.Vec, len(p.legs))
	for k, leg := range p.legs {
		along := r3.Sub(r.Points[k+1], r.Points[k])
		length := r3.Norm(along)
		if length > 0 { // a leg of length 0 has no direction
			slowness[k] = r3.Scale(1/(length*leg.Speed), along)
		}
		d.Speeds = append(d.Speeds, -length/(leg.Speed*leg.Speed))
		if k > 0 {
			d.Surfaces = append(d.Surfaces, r3.Sub(slowness[k-1], slowness[k]))
		}
	}
	d.Start = r3.Scale(-1, slowness[0])
	d.End = slowness[len(p.legs)-1]
	return d, nil
}

// checkRay reports a Ray without a path, or with a path of another shape than p.
func (p *Path) checkRay(r *Ray) error {
	if err := r.Status.Err(); err != nil {
		return err
	}
	if len(r.Points) != len(p.legs)+1 || len(r.Normals) != len(p.crossings) {
		return fmt.Errorf("wedge: ray of %d points on a path of %d legs: want one more than legs",
			len(r.Points), len(p.legs))
	}
	return nil
}

// turn returns the derivative of the time in s/rad with respect to a turn about the line through
// pivot along the unit vector axis, by the right-hand rule. The point at turns, and slope is the
// derivative of the time with respect to its coordinates. About +y a positive angle raises points
// at a greater x than the pivot: it steepens a wedge.
func turn(slope, at, pivot, axis r3.Vec) float64 {
	return r3.Dot(slope, r3.Cross(axis, r3.Sub(at, pivot)))
}

// SetupDerivatives are the derivatives of the time of a ray with respect to the parameters of a
// [Setup].
type SetupDerivatives struct {
	Coupling                 float64 // speed of the coupling, s/(m/s); 0 for an array in contact
	Longitudinal, Transverse float64 // speeds of the part, s/(m/s)
	// Height is the derivative with respect to the height of the array over the part, in s/m.
	// Thickness is the derivative with respect to the thickness of the part, in s/m. The entry
	// surface stays in place, and the back wall of the plate or pipe moves.
	Height, Thickness float64
	// Angle is the derivative with respect to the wedge angle, in s/rad. The array turns about the
	// line through the pivot along y. A positive angle raises elements at a greater x than the
	// pivot.
	Angle float64
}

// Derivatives returns the derivatives of the time of a ray along p, a path of [Setup.Path]. The
// array turns about the line through pivot (m) along y. The pivot can be the first element or the
// toe of the wedge. The error is the error of [Path.Derivatives].
func (s *Setup) Derivatives(p *Path, r *Ray, pivot r3.Vec) (*SetupDerivatives, error) {
	d, err := p.derivatives(r)
	if err != nil {
		return nil, err
	}
	out := &SetupDerivatives{
		Height: -d.Start.Z,
		Angle:  turn(d.Start, r.Points[0], pivot, r3.Vec{Y: 1}),
	}
	for k, leg := range p.legs {
		switch {
		case k == 0 && s.Coupling != nil:
			out.Coupling += d.Speeds[k]
		case leg.Mode == material.T:
			out.Transverse += d.Speeds[k]
		default:
			out.Longitudinal += d.Speeds[k]
		}
	}
	for k, c := range p.crossings {
		if c.Reflects && c.From == Near { // the back wall
			out.Thickness += r3.Dot(d.Surfaces[k], r.Normals[k])
		}
	}
	return out, nil
}
