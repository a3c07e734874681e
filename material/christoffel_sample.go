// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// maxSamples is the largest number of directions of a section, about 6 GB of waves.
const maxSamples = 1 << 24

// Section returns the waves of k phase directions in the plane of two vectors: a section of the
// slowness surface. The directions are equally spaced over a full turn. They start at from and turn
// towards the other vector; direction i makes the angle 2πi/k with from. The vectors may have any
// length above 0, and any angle between them except 0 and π. k is from 1 to 2²⁴. The error names an
// argument outside its range.
//
// The slowness vectors lie in the plane. The group velocities lie in the plane only if it is a
// plane of symmetry.
func (c *Christoffel) Section(from, towards r3.Vec, k int) ([][3]PlaneWave, error) {
	u, err := unitDirection("start of section", from)
	if err != nil {
		return nil, err
	}
	w, err := unitDirection("turn of section", towards)
	if err != nil {
		return nil, err
	}
	across := r3.Sub(w, r3.Scale(r3.Dot(u, w), u))
	if !(r3.Norm(across) > 1e-9) {
		return nil, fmt.Errorf(
			"material: turn of section %v: want a direction other than ±the start %v",
			towards, from)
	}
	if k < 1 || k > maxSamples {
		return nil, fmt.Errorf(
			"material: %d directions of a section: want at least 1 and at most %d", k, maxSamples)
	}
	across = r3.Unit(across)
	out := make([][3]PlaneWave, k)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(k))
		out[i] = c.phase(r3.Add(r3.Scale(cos, u), r3.Scale(sin, across)))
	}
	return out, nil
}
