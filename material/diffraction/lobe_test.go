// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package diffraction

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// halfWidth returns the angle in degrees at which the back-scatter of a crack falls to half.
func halfWidth(c *Crack, mode material.Mode) float64 {
	low, high, half := 0.0, 0.0, c.echo(mode, 0)/2
	for high = 0.5; c.echo(mode, high) > half; high += 0.5 {
		low = high
	}
	for range 50 {
		if middle := (low + high) / 2; c.echo(mode, middle) > half {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// TestLobeLength inverts the exact half-widths of a crack in steel. The half-widths and the ratios,
// which are the errors of Kirchhoff's approximation, are from an independent program
// (Chebyshev-Galerkin, optical theorem to 1e-12).
func TestLobeLength(t *testing.T) {
	half := 2 * math.Pi * halfLobe
	check.Within(t, "echo at the half-width", math.Sin(half)/half, 0.5, 1e-9)
	for _, c := range []struct{ lengths, degrees, ratioL, ratioT float64 }{ // wavelengths of L waves
		{0.25, 46.892501, 1.653, 0.776},
		{0.5, 31.854320, 1.143, 1.020},
		{1, 16.384120, 1.069, 1.054},
		{2, 8.413287, 1.031, 1.023},
		{3, 5.651497, 1.021, 1.013},
		{5, 3.425709, 1.010, 1.005},
	} {
		crack := wavelengths(steel, c.lengths)
		width := halfWidth(crack, material.L)
		check.Within(t, "half-width of L", width, c.degrees, 1e-5)
		check.Within(t, "length by L over the true length", LobeLength(width*degree, 1)/c.lengths, c.ratioL, 6e-4)
		width = halfWidth(crack, material.T)
		byT := LobeLength(width*degree, steel.Transverse/steel.Longitudinal)
		check.Within(t, "length by T over the true length", byT/c.lengths, c.ratioT, 6e-4)
	}
}

func TestLobeRange(t *testing.T) {
	for _, bad := range [][2]float64{{0, 1}, {math.Pi / 2, 1}, {0.1, 0}, {math.NaN(), 1}} {
		if got := LobeLength(bad[0], bad[1]); !math.IsNaN(got) {
			t.Errorf("half-width %v, wavelength %v: %v, want NaN", bad[0], bad[1], got)
		}
	}
}
