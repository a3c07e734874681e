// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Refract returns the angle from the normal, in radians, of the wave that leaves a plane boundary
// with the speed to. The incident wave has the speed from and the given angle. Both speeds are in
// m/s, finite and above 0; −π/2 ≤ angle ≤ π/2. Snell's law is
//
//	sin(refracted)/to = sin(angle)/from
//
// The result has the sign of angle. Refract serves every pair of waves: refraction, reflection with
// mode conversion and, with the speeds exchanged, the wedge angle for a wanted beam angle.
//
// The result is NaN beyond the critical angle, where no wave leaves, and for arguments outside
// their ranges. At the angle that [CriticalAngle] returns, rounding decides whether the result is
// NaN.
func Refract(angle, from, to float64) float64 {
	if !(math.Abs(angle) <= math.Pi/2) || !number.Positive(from) || !number.Positive(to) {
		return math.NaN()
	}
	return math.Asin(math.Sin(angle) * (to / from))
}

// CriticalAngle returns the angle of incidence asin(from/to), in radians from the normal. At this
// angle a wave of speed from leaves a plane boundary along the boundary, with the speed to. Both
// speeds are in m/s, finite and above 0. For from = to the angle is π/2. The result is NaN if to is
// below from, because no critical angle exists, and for speeds outside their ranges.
//
// The first critical angle of a wedge or of water belongs to the longitudinal speed of the part:
// beyond it no longitudinal wave enters. The second critical angle belongs to the transverse speed
// of the part: beyond it no transverse wave enters either. With the speed of Rayleigh waves
// ([Isotropic.Rayleigh]) the result is the Rayleigh angle of an immersed solid, and the angle of a
// wedge for surface waves.
func CriticalAngle(from, to float64) float64 {
	if !number.Positive(from) || !number.Positive(to) {
		return math.NaN()
	}
	return math.Asin(from / to)
}
