// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

// FuzzAnisotropicScatter checks that any slowness gives an error, or coefficients whose energies
// have the sum 1.
func FuzzAnisotropicScatter(f *testing.F) {
	f.Add(uint64(1), uint8(0), 1e-4, 1e-4)
	f.Add(uint64(2), uint8(5), 0.0, 0.0)
	f.Fuzz(func(t *testing.T, seed uint64, kind uint8, x, y float64) {
		b, err := anisotropicKinds[int(kind)%len(anisotropicKinds)].make(rand.New(rand.NewPCG(seed, 0)))
		if err != nil {
			return
		}
		if s, err := b.Scatter(r2.Vec{X: x, Y: y}); err == nil {
			checkEnergy(t, s)
		}
	})
}
