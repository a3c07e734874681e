// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// Part is a part: a wall, and perhaps a weld.
type Part struct {
	Wall

	// Weld is the joint at its place in the section; see [joint.Joint.Shifted]. Nil stands for a
	// part without a weld. The joint lies on the developed surface of the wall: its x is the
	// distance along the near surface, and its depth is the depth below it. So the seam along a
	// pipe has the joint of a plate. For a flat wall these are x and z themselves.
	Weld *joint.Joint

	// HeatAffected is the width of the heat-affected zone from the fusion face in m, from 0 on. The
	// welding procedure or a macrograph states it.
	HeatAffected float64
}

// Position is where a point lies in a part.
type Position struct {
	Place
	Weld *WeldPlace `json:"weld,omitempty"` // nil for a part without a weld
}

// WeldPlace is where a point lies relative to a weld. A distance is no more accurate than the
// preparation, the place of the array and the wave speeds are known.
type WeldPlace struct {
	// FromCentre is the distance from the centre line along the near surface in m, above 0 towards
	// +x. The centre line goes through the origin of the joint.
	FromCentre float64 `json:"from_centre_line_m"`
	// Zone names the material: the words of [joint.Zone].
	Zone string `json:"zone"`
	// Faces has the distance from each fusion face, in the order of the joint: left ones first.
	Faces []FaceDistance `json:"faces"`
	// Nearest is the index in Faces of the nearest one.
	Nearest int `json:"nearest_face"`
}

// FaceDistance is how far a point is from a fusion face.
type FaceDistance struct {
	Face     string  `json:"face"`       // with its side, such as "left bevel"
	Distance float64 `json:"distance_m"` // m, below 0 if the point is in the weld metal
	// Share is the place of the nearest point of the face as a share of the length of the face, 0
	// at its upper or left end.
	Share float64 `json:"share"`
	// Inclination is the angle of the face there from the vertical in rad, above 0 if the face goes
	// towards +x as it goes down. A flaw in the face has this direction; its tilt has the opposite
	// sign.
	Inclination float64 `json:"inclination_rad"`
}

// Position returns where a point, in m, lies in the part. The fields are NaN as for [Wall.Place] if
// a coordinate is not finite; Weld is then nil.
func (p Part) Position(q r3.Vec) Position {
	at := Position{Place: p.Place(q)}
	if p.Weld == nil || math.IsNaN(at.Along) {
		return at
	}
	place := r2.Vec{X: at.Along, Y: p.near.At(0, 0).P.Z + at.Depth}
	w := &WeldPlace{
		FromCentre: at.Along - p.Weld.Origin.X,
		Zone:       p.Weld.Zone(place, p.HeatAffected).String(),
	}
	for i, f := range p.Weld.FromFaces(place) {
		w.Faces = append(w.Faces, FaceDistance{f.Face.Name, f.Distance, f.Share, f.Inclination})
		if math.Abs(f.Distance) < math.Abs(w.Faces[w.Nearest].Distance) {
			w.Nearest = i
		}
	}
	at.Weld = w
	return at
}

// Unfolded is a beam in a wall, with its skips unfolded: the beam as it would go on straight
// through a wall several times as thick.
type Unfolded struct {
	Leg int `json:"leg"` // number of the leg that ends at the point, from 1: the skips plus 1

	// Surface is the distance along the near surface from the exit point to the foot of the point
	// in m, above 0 towards +x. On a pipe it is an arc.
	Surface float64 `json:"surface_distance_m"`

	// Depth is the depth that the beam has gone through on all legs in m. In a plate of the
	// thickness T a point at the depth d has d on leg 1, 2T - d on leg 2, 2T + d on leg 3.
	Depth float64 `json:"unfolded_depth_m"`

	// SoundPath is the length of the beam in the part from the exit point in m.
	SoundPath float64 `json:"sound_path_m"`

	// Angle is the refraction angle at the exit point in rad, from the normal of the near surface,
	// above 0 towards +x.
	Angle float64 `json:"angle_rad"`

	Points []r3.Vec `json:"points_m"` // exit point, skips, point, m
}

// Unfold returns the beam of one mode, with its skips unfolded, from an exit point on the near
// surface to a point in the wall. The beam reaches the point on the given leg, from 1 to 64. Points
// are in m. The first skip is off the far surface, the second off the near surface, and so on. In a
// plate this is Pythagoras; on a pipe the skips are found as in package wedge.
//
// It is an error if the exit point is more than a micrometre from the near surface, or the point
// outside the wall. If no such beam stays within the wall, the error wraps [wedge.ErrNoRay]: on a
// pipe a beam can miss the far surface, or go through the bore.
func (w Wall) Unfold(exit, point r3.Vec, leg int) (Unfolded, error) {
	from, to := w.Place(exit), w.Place(point)
	const most, aside = 64, 1e-6
	switch {
	case leg < 1 || leg > most:
		return Unfolded{}, fmt.Errorf("sizing: leg %d: want 1 to %d", leg, most)
	case !(math.Abs(from.Depth) <= aside):
		return Unfolded{}, fmt.Errorf("sizing: exit point %v m at a depth of %v m: want it on the near surface", exit, from.Depth)
	case !(to.Depth >= -aside && to.Remaining >= -aside):
		return Unfolded{}, fmt.Errorf("sizing: point %v m: want a point in the wall", point)
	}
	legs := make([]wedge.Leg, leg)
	var skips []wedge.Crossing
	for i := range legs {
		legs[i] = wedge.Leg{Speed: 1, Mode: material.L} // any one speed: a skip keeps its angle
		if i%2 == 1 {
			skips = append(skips, wedge.Crossing{Surface: w.far, From: wedge.Near, Reflects: true})
		} else if i > 0 {
			skips = append(skips, wedge.Crossing{Surface: w.near, From: wedge.Far, Reflects: true})
		}
	}
	path, err := wedge.NewPath(legs, skips)
	if err != nil {
		return Unfolded{}, err
	}
	ray := path.Solve(exit, point)
	if err := ray.Status.Err(); err != nil {
		return Unfolded{}, fmt.Errorf("sizing: beam to %v m on leg %d: %w", point, leg, err)
	}
	patch := w.near.At(w.near.Locate(exit))
	first := r3.Unit(r3.Sub(ray.Points[1], ray.Points[0]))
	u := Unfolded{
		Leg: leg, Surface: to.Along - from.Along, SoundPath: ray.Time, Points: ray.Points,
		Angle: math.Atan2(r3.Dot(first, r3.Unit(patch.U)), r3.Dot(first, patch.Normal())),
	}
	for i, p := range ray.Points[1:] {
		before := ray.Points[i]
		if !w.holds(before, p) {
			return Unfolded{}, fmt.Errorf("sizing: beam to %v m on leg %d leaves the wall: %w", point, leg, wedge.ErrNoRay)
		}
		u.Depth += math.Abs(w.near.Depth(p) - w.near.Depth(before))
	}
	return u, nil
}

// holds reports whether the straight line between two points lies in the wall.
func (w Wall) holds(a, b r3.Vec) bool {
	const pieces, allowance = 64, 1e-6
	for k := 1; k < pieces; k++ {
		t := float64(k) / pieces
		at := w.Place(r3.Add(r3.Scale(1-t, a), r3.Scale(t, b)))
		if !(at.Depth >= -allowance && at.Remaining >= -allowance) {
			return false
		}
	}
	return true
}
