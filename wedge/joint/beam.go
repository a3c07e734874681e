// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"
)

// Beam is a straight beam that skips between the entry surface and the back wall, always at the
// same angle.
type Beam struct {
	// Angle is the angle in the part between the beam and the z axis in rad, in (-π/2, π/2). It is
	// above 0 if the beam runs towards +x.
	Angle float64
	Index float64 // x of the point where the beam from the array enters the plate, m
	Path  float64 // length of the beam from the entry surface to the face, m
}

// Square returns the beam in the plate that strikes a fusion face at a right angle. The beam
// strikes the face at a share of the length of the face, in [0, 1], after 0 to 1000 skips. The
// first skip is at the back wall, the second at the entry surface, and so on. The wave keeps its
// mode, and so its angle.
//
// It is an error if there is no such beam. No beam strikes a face at a right angle that is
// perpendicular to the surfaces. A face below the plate, such as the face of a web, is struck by
// direct beams only. The search ignores obstacles on the way. It also ignores whether the beam
// arrives through the weld metal or through the part, and whether it enters the plate or skips in
// one of the gaps of the plate, such as under the cap. There the wedge cannot stand, and the
// set-up of [Joint.Setup] has no ray: another number of skips may bring the index out of the gap.
func (p Plate) Square(f Face, share float64, skips int) (Beam, error) {
	if !(share >= 0 && share <= 1) {
		return Beam{}, fmt.Errorf("joint: share of the length of a face %v: want 0 to 1", share)
	}
	if skips < 0 || skips > 1000 {
		return Beam{}, fmt.Errorf("joint: %d skips: want 0 to 1000", skips)
	}
	at, inclination := f.At(share), f.Inclination(share)
	depth := at.Y - p.Top
	if !(depth >= 0) || skips > 0 && !(depth <= p.Thickness) {
		return Beam{}, fmt.Errorf("joint: %s at a depth of %v m, after %d skips: "+
			"want it in the thickness of %v m", f.Name, depth, skips, p.Thickness)
	}
	if !(math.Abs(inclination) > 1e-9) {
		return Beam{}, fmt.Errorf("joint: %s of inclination %v rad: "+
			"want a face that is not perpendicular to the surfaces", f.Name, inclination)
	}
	// A beam of the angle θ goes along (sin θ, ±cos θ), upwards after an odd number of skips. A
	// face of the inclination α goes along (sin α, cos α). The two are perpendicular if tan θ · tan
	// α = ∓1, that is θ = ∓(π/2 - |α|)·sgn α. Mirror images of the plate make the beam straight. In
	// them a face at the depth z lies at the depth z + n·t after an even number n of skips in the
	// thickness t, and at the depth (n+1)·t - z after an odd number.
	theta := math.Copysign(math.Pi/2-math.Abs(inclination), -inclination)
	unfolded := depth + float64(skips)*p.Thickness
	if skips%2 == 1 {
		theta = -theta
		unfolded = float64(skips+1)*p.Thickness - depth
	}
	return Beam{theta, at.X - unfolded*math.Tan(theta), unfolded / math.Cos(theta)}, nil
}
