// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "math"

// Refract returns the angle from the normal, in radians, of the wave that
// leaves a plane boundary at speed to, when a wave of speed from falls on it at
// angle (both in m/s, finite and above 0; −π/2 ≤ angle ≤ π/2):
//
//	sin(refracted)/to = sin(angle)/from
//
// (Snell's law). It keeps the sign of angle. It serves every pair of waves:
// refraction, reflection with a change of mode, and, with the speeds exchanged,
// the wedge angle for a wanted beam angle.
//
// The result is NaN where no wave leaves, beyond the critical angle, and for
// arguments out of range. The angle returned by [CriticalAngle] itself may,
// being rounded, lie on either side.
func Refract(angle, from, to float64) float64 {
	if !(math.Abs(angle) <= math.Pi/2) || !snellSpeed(from) || !snellSpeed(to) {
		return math.NaN()
	}
	return math.Asin(math.Sin(angle) * (to / from))
}

// CriticalAngle returns the angle of incidence from the normal, in radians, at
// which a wave of speed from leaves a plane boundary along it at speed to (m/s,
// finite and above 0): asin(from/to). For from = to it is π/2. It is NaN where
// there is none, since to is the lower speed, and for arguments out of range.
//
// With to the speed of Rayleigh waves ([Isotropic.Rayleigh]) it is the Rayleigh
// angle of an immersed solid, or the angle of a surface-wave wedge.
func CriticalAngle(from, to float64) float64 {
	if !snellSpeed(from) || !snellSpeed(to) {
		return math.NaN()
	}
	return math.Asin(from / to)
}

// CriticalAngles returns the two critical angles of a wave of speed from (m/s)
// that falls on the solid into: beyond first no longitudinal wave enters,
// beyond second no transverse wave either. Each follows the rule of
// [CriticalAngle]: in particular second is NaN for a fluid, and where from is
// above the transverse speed.
func CriticalAngles(from float64, into Isotropic) (first, second float64) {
	return CriticalAngle(from, into.Longitudinal), CriticalAngle(from, into.Transverse)
}

func snellSpeed(c float64) bool { return c > 0 && !math.IsInf(c, 0) }
