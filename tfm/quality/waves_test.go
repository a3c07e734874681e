// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestSpreadOfWaves compares the point spread of straight rays, given as waves, with the point spread
// of the same rays by a set-up.
func TestSpreadOfWaves(t *testing.T) {
	const n = 8
	array := check.Must(fmc.LinearArray(n, 0.7e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6}))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(n), Samples: 1, SampleRate: 50e6, Data: make([]float32, n*n)}))
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	setup := check.Must(wedge.NewPlate(nil, steel, 25e-3))
	want := check.Must(NewSpread(c, setup, "L-L", &Options{Uniform: true}))
	waves := func(at r3.Vec) ([]Wave, error) {
		var out []Wave
		for _, e := range array.Elements {
			d := r3.Sub(at, e)
			out = append(out, Wave{Time: r3.Norm(d) / 5920, Slowness: r3.Scale(1/5920., r3.Unit(d))})
		}
		return out, nil
	}
	got := check.Must(NewSpreadOf(c, waves, 5920/4e6, nil))
	at := r3.Vec{X: 2e-3, Z: 12e-3}
	a, b := check.Must(want.At(at)), check.Must(got.At(at))
	for _, off := range []r3.Vec{{X: 0.3e-3}, {Z: 0.2e-3}, {X: -0.5e-3, Z: 0.4e-3}} {
		check.Within(t, "amplitude beside the peak", b.Amplitude(off), a.Amplitude(off), 1e-9)
	}
	for _, row := range []struct {
		name, want string
		waves      Waves
		wavelength float64
	}{
		{"no waves", "waves nil", nil, 1e-3},
		{"wavelength", "wavelength NaN", waves, math.NaN()},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := NewSpreadOf(c, row.waves, row.wavelength, nil)
			check.Error(t, err, row.want)
		})
	}
	few := check.Must(NewSpreadOf(c, func(r3.Vec) ([]Wave, error) { return make([]Wave, 3), nil }, 1e-3, nil))
	_, err := few.At(at)
	check.Error(t, err, "3 waves", "want 8")
}
