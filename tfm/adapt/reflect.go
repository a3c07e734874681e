// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// specular returns the surface point that mirrors a pulse-echo signal to an element at (x, z). The
// distance d of the echo is half of the path. The slope is the derivative of the distance along the
// array. The formula is exact for every smooth surface, because the echo returns along the normal.
// The array runs along x, and the slope is between -1 and 1.
func specular(x, z, d, slope float64) (px, pz float64) {
	return x - d*slope, z + d*math.Sqrt(1-slope*slope)
}

// bounce is the echo of a curve between two elements.
type bounce struct {
	x        float64 // of the point that mirrors, m
	length   float64 // of the path, m
	slope    float64 // derivative of the length with respect to the depth of the curve at x
	incident float64 // angle of incidence, rad
}

// reflect returns the echo of s between two elements. It searches from x for the point at which the
// path is stationary (Fermat), with Newton steps. ok is false if the search finds no such point, or
// one whose path is not the shortest of its neighbours.
func reflect(s curve, a, b r3.Vec, x float64) (e bounce, ok bool) {
	for range 30 {
		z, dz, ddz := s.at(x)
		ax, az := x-a.X, z-a.Z
		bx, bz := x-b.X, z-b.Z
		la, lb := math.Hypot(ax, az), math.Hypot(bx, bz)
		ta, tb := (ax+az*dz)/la, (bx+bz*dz)/lb
		w := 1 + dz*dz
		bend := (w+az*ddz-ta*ta)/la + (w+bz*ddz-tb*tb)/lb
		if !(bend > 0) {
			return e, false
		}
		step := -(ta + tb) / bend
		if math.Abs(step) <= 1e-9 {
			// A last step of a nanometre changes the length by less than its rounding.
			cosine := (ax*bx + az*bz) / (la * lb)
			return bounce{x: x, length: la + lb, slope: az/la + bz/lb,
				incident: math.Acos(min(1, max(-1, cosine))) / 2}, true
		}
		x += max(-1, min(1, step/(la+lb)*4)) * (la + lb) / 4
	}
	return e, false
}
