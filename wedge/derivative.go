// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// Derivatives are those of the time of a ray with respect to all that the time
// depends on. By Fermat's principle a small shift of the crossings changes
// nothing, so that only what stands in the time itself counts, and the
// derivatives are as exact as the ray. They carry uncertainties of the set-up
// to the time, and serve fits of a set-up to times.
type Derivatives struct {
	// Start and End are the derivatives with respect to the coordinates of the
	// ends, in s/m. End is the slowness of the ray where it arrives, Start minus
	// that where it leaves.
	Start, End r3.Vec
	// Speeds holds the derivative with respect to the speed of each leg, s/(m/s).
	Speeds []float64
	// Surfaces holds for each crossing the derivative with respect to a shift of
	// the surface there, in s/m: a surface that moves by d at the crossing makes
	// the ray later by the product of the two. It lies along the normal, since a
	// shift of a surface within itself is none, but for rounding.
	//
	// A surface that turns by the angle dα about the unit vector e through the point p moves
	// by dα·e × (q - p) at the crossing q, by the right-hand rule.
	Surfaces []r3.Vec
	// Depths holds for each crossing on a surface of [NewProfile] or [NewSmoothProfile] the
	// derivative of the time with respect to the depth of each point of the profile, in s/m.
	// For a crossing on another surface it holds nil. The points of a smooth profile are the
	// smoothed ones.
	Depths [][]float64
}

// Derivatives returns the derivatives of the time of a ray of p. The error says
// that r is no ray (it wraps [ErrNoRay]), or not one of p.
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
		if length > 0 { // a leg of no length has no direction, and no part in the time
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

// checkRay reports a ray that is none, or not one of p.
func (p *Path) checkRay(r *Ray) error {
	if err := r.Status.Err(); err != nil {
		return err
	}
	if len(r.Points) != len(p.legs)+1 || len(r.Normals) != len(p.crossings) {
		return fmt.Errorf("wedge: ray of %d points on a path of %d legs: want one more than legs", len(r.Points), len(p.legs))
	}
	return nil
}

// turn returns the derivative, in s/rad, of the time with respect to a turn of
// what moves the point at, whose own derivative is slope (Derivatives.Start for
// an element, one of Derivatives.Surfaces for a crossing), about the line
// through pivot along axis, by the right-hand rule. The axis is a unit vector.
// About +y an angle above 0 lifts what lies at a greater x than the pivot: it
// steepens a wedge.
func turn(slope, at, pivot, axis r3.Vec) float64 {
	return r3.Dot(slope, r3.Cross(axis, r3.Sub(at, pivot)))
}

// SetupDerivatives are the derivatives of the time of a ray with respect to the
// parameters of a [Setup].
type SetupDerivatives struct {
	Coupling                 float64 // speed of the coupling, s/(m/s); 0 for an array in contact
	Longitudinal, Transverse float64 // speeds of the part, s/(m/s)
	// Height is the derivative with respect to the height of the array over the
	// part, Thickness that with respect to the thickness of the part, whose entry
	// surface stays where it is: the wall of a plate or a pipe. Both in s/m.
	Height, Thickness float64
	// Angle is the derivative with respect to the wedge angle, in s/rad: the array
	// is turned about the line through the pivot along y, the heights of elements
	// beyond it growing.
	Angle float64
}

// Derivatives returns the derivatives of the time of a ray along p, a path that s
// made, for an array that turns about the line through pivot (m) along y, such as
// its first element or the toe of the wedge. The error is that of
// [Path.Derivatives].
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
