// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package exact

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// nearest returns the parameter of the point of a curve that is nearest to q. It uses Newton's
// method on the square of the distance, from the start u. It takes a step only if the step reduces
// the distance. The curve returns a point with its first two derivatives.
func nearest(curve func(u float64) (p, first, second r3.Vec), q r3.Vec, u float64) float64 {
	distance := func(u float64) float64 {
		p, _, _ := curve(u)
		return r3.Norm(r3.Sub(p, q))
	}
	least := distance(u)
	for range 50 {
		p, first, second := curve(u)
		off := r3.Sub(p, q)
		bend := r3.Norm2(first) + r3.Dot(off, second)
		if !(bend > 0) {
			bend = r3.Norm2(first)
		}
		step := -r3.Dot(off, first) / bend
		for !(distance(u+step) <= least) {
			if step /= 2; !(math.Abs(step) > 1e-16) {
				return u
			}
		}
		u += step
		least = distance(u)
		if math.Abs(step) <= 1e-16 {
			break
		}
	}
	return u
}
