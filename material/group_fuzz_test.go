// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// FuzzAnisotropic uses any nine constants, density, rotation and direction. For every solid that
// Validate accepts, the waves must be finite and satisfy the identities, and the arrivals must
// travel along the given direction.
func FuzzAnisotropic(f *testing.F) {
	f.Add(7870.0, 237e9, 237e9, 237e9, 141e9, 141e9, 141e9, 116e9, 116e9, 116e9, 0.0, 1.0, 1.0, 1.0)
	f.Add(7134.0, 161e9, 161e9, 61e9, 34.2e9, 50.1e9, 50.1e9, 38.3e9, 38.3e9, 63.4e9, 0.3, 0.0, 0.0, 1.0)
	f.Add(3355.0, 320.5e9, 196.5e9, 233.5e9, 68.1e9, 71.6e9, 76.8e9, 64e9, 77e9, 78.7e9, 1.0, 1.0, -2.0, 0.5)
	f.Add(8000.0, 300e9, 300e9, 300e9, -120e9, -120e9, -120e9, 100e9, 100e9, 100e9, 0.0, 1.0, 1.0, 1.0)
	f.Add(1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.5, 0.5, 0.5, 2.0, 0.0, 1e-300, 0.0)
	f.Fuzz(func(t *testing.T, density, c11, c22, c33, c12, c13, c23, c44, c55, c66, turn, x, y, z float64) {
		c := Orthotropic{c11, c22, c33, c12, c13, c23, c44, c55, c66}.Stiffness()
		if turned, err := c.Rotate(r3.NewRotation(turn, r3.Vec{X: 1, Y: 2, Z: 3})); err == nil {
			c = turned
		}
		s, err := NewGroupSolver(Anisotropic{density, c})
		if err != nil {
			t.Skip("not a stable solid")
		}
		d := r3.Vec{X: x, Y: y, Z: z}
		waves, err := s.christoffel.Phase(d)
		if err != nil {
			t.Skip("not a direction")
		}
		for _, w := range waves {
			if !(w.Speed > 0) || math.IsInf(w.Speed, 0) {
				t.Errorf("%v: speed %v", w.Sheet, w.Speed)
			}
			// The error of the slowest speed is the rounding of the fastest.
			ratio := waves[QL].Speed / w.Speed
			check.Within(t, "V·n/v", r3.Dot(w.Group, w.Normal)/w.Speed, 1, 1e-14*ratio*ratio)
			check.Within(t, "length of the polarisation", r3.Norm(w.Polarisation), 1, 1e-14)
		}
		list, err := s.Arrivals(nil, d)
		if err != nil {
			t.Fatal(err)
		}
		checkArrivals(t, list, waves[QL].Normal)
	})
}
