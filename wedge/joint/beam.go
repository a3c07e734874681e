// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"
)

// Beam is a straight beam that skips between the entry surface and the back wall, at
// the same angle each time.
type Beam struct {
	// Angle is that in the part between the beam and the z axis in rad, in
	// (-π/2, π/2), above 0 where the beam runs towards +x.
	Angle float64
	Index float64 // x where it starts from the entry surface, m
	Path  float64 // length of the beam from there to the face, m
}

// Square returns the beam in the plate that strikes a fusion face at a right angle, at a share
// of the face's length, after a number of skips: off the back wall first, then off
// the entry surface, and so on. The wave keeps its mode, and so its angle.
//
// It is found with mirror images. A beam of the angle θ goes along
// (sin θ, ±cos θ), up after an odd number of skips, and a face of the inclination
// α along (sin α, cos α); they are square if tan θ · tan α = ∓1, that is
// θ = ∓(π/2 - |α|)·sgn α. Unfolded, a face at depth z lies at the depth z + n·t
// after an even number n of skips in the thickness t, and at (n+1)·t - z after an
// odd one.
//
// It is an error if there is no such beam: a face square to the surfaces is struck
// by none, and one beyond the thickness, as that of a web, only by direct beams.
// Obstacles on the way are not looked for, nor whether the beam arrives through
// the weld metal or through the part.
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
		return Beam{}, fmt.Errorf("joint: %s at a depth of %v m, after %d skips: want it in the thickness of %v m", f.Name, depth, skips, p.Thickness)
	}
	if !(math.Abs(inclination) > 1e-9) {
		return Beam{}, fmt.Errorf("joint: %s of inclination %v rad: want one that is not square to the surfaces", f.Name, inclination)
	}
	theta := math.Copysign(math.Pi/2-math.Abs(inclination), -inclination)
	unfolded := depth + float64(skips)*p.Thickness
	if skips%2 == 1 {
		theta = -theta
		unfolded = float64(skips+1)*p.Thickness - depth
	}
	return Beam{Angle: theta, Index: at.X - unfolded*math.Tan(theta), Path: unfolded / math.Cos(theta)}, nil
}
