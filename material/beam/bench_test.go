// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// BenchmarkDirectivity measures the functions that a table of amplitudes calls for each element and
// pixel.
func BenchmarkDirectivity(b *testing.B) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	acrylic := material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
	var sink complex128
	b.Run("on=solid", func(b *testing.B) {
		e := ContactElement{Width: 0.5e-3, Frequency: 5e6, Medium: steel}
		b.ReportAllocs()
		for b.Loop() {
			sink += e.Directivity(material.T, 0.7)
		}
	})
	b.Run("on=wedge", func(b *testing.B) {
		w := WedgeElement{
			Element: ContactElement{Width: 0.5e-3, Frequency: 5e6, Medium: acrylic},
			Tilt:    0.6, Part: steel, Contact: material.LiquidFilm,
		}
		b.ReportAllocs()
		for b.Loop() {
			sink += check.Must(w.Directivity(material.T, 0.7))
		}
	})
	if sink == 0 {
		b.Error("no amplitude")
	}
}
