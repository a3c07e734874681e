// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

func BenchmarkAmplitudesAlong(b *testing.B) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	for _, modes := range [][]material.Mode{{material.T}, {material.T, material.T}} {
		p := check.Must(plate.Path(modes))
		acoustics := plate.Acoustics(p)
		acoustics.Frequency = 4e6
		acoustics.Source = &Source{Width: 0.5e-3, Normal: r3.Vec{X: 0.7, Z: 1}, Axis: r3.Vec{X: 1, Z: -0.7}}
		a := check.Must(NewAmplitudes(p, acoustics))
		r := p.Solve(mm(-9, -11), mm(14, 12))
		b.Run("path="+modeNames(modes), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := a.Along(&r); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
