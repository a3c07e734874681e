// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package diffraction

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestLobeLength inverts exact half-widths of the back-scatter of L waves by a crack in steel, from
// an independent numerical solution of the finite crack (Chebyshev-Galerkin, optical theorem to
// 1e-12). The ratios are the errors of Kirchhoff's approximation.
func TestLobeLength(t *testing.T) {
	half := 2 * math.Pi * halfLobe
	check.Within(t, "echo at the half-width", math.Sin(half)/half, 0.5, 1e-7)
	for _, c := range []struct{ lengths, degrees, ratio float64 }{
		{0.25, 46.892501, 1.653},
		{0.5, 31.854320, 1.143},
		{1, 16.384120, 1.069},
		{2, 8.413287, 1.031},
		{3, 5.651497, 1.021},
		{5, 3.425709, 1.010},
	} {
		check.Within(t, "length over the true length", LobeLength(c.degrees*degree, 1)/c.lengths, c.ratio, 6e-4)
	}
	for _, bad := range [][2]float64{{0, 1}, {math.Pi / 2, 1}, {0.1, 0}, {math.NaN(), 1}} {
		if got := LobeLength(bad[0], bad[1]); !math.IsNaN(got) {
			t.Errorf("half-width %v, wavelength %v: %v, want NaN", bad[0], bad[1], got)
		}
	}
}
