// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestFingerprint: plans of the same images have the same fingerprint, and any other plan has
// another one.
func TestFingerprint(t *testing.T) {
	c := randomCapture(70, 4, 700, fmc.HalfPairs(4))
	g := check.Must(NewSection(-3e-3, 3e-3, 2e-3, 9e-3, 0.5e-3))
	plate := func(thickness float64) *wedge.Setup {
		return check.Must(wedge.NewPlate(nil, material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}, thickness))
	}
	of := func(c *fmc.Capture, setup *wedge.Setup, view string, g Grid, o *Options) string {
		return check.Must(check.Must(PlanView(background, c, setup, view, g, o)).Fingerprint(background))
	}
	want := of(c, plate(10e-3), "L-L", g, nil)
	other := *c
	other.Data = slices.Repeat([]float32{7}, len(c.Data))
	if got := of(&other, plate(10e-3), "L-L", g, &Options{Workers: 1, Coherence: PhaseCoherence}); got != want {
		t.Errorf("fingerprint %s of the same images, want %s", got, want)
	}
	late, full := *c, randomCapture(70, 4, 700, fmc.FullPairs(4))
	late.FirstSample += 1e-9
	moved, wide := g, g
	moved.Origin.X += 1e-9
	wide.Cols++
	seen := map[string]string{want: "the plan"}
	for _, test := range []struct{ name, fingerprint string }{
		{"first sample", of(&late, plate(10e-3), "L-L", g, nil)},
		{"pairs", of(full, plate(10e-3), "L-L", g, nil)},
		{"view", of(c, plate(10e-3), "T-T", g, nil)},
		{"skip", of(c, plate(10e-3), "LL-L", g, nil)},
		{"skip in a thicker plate", of(c, plate(10.0001e-3), "LL-L", g, nil)},
		{"grid", of(c, plate(10e-3), "L-L", moved, nil)},
		{"columns", of(c, plate(10e-3), "L-L", wide, nil)},
		{"band", of(c, plate(10e-3), "L-L", g, &Options{Band: Band{1e6, 7e6}})},
		{"weights", of(c, plate(10e-3), "L-L", g, &Options{Weights: []float32{1, 1, 1, 1, 1, 1, 1, 1, 1, 0.999}})},
		{"precision", of(c, plate(10e-3), "L-L", g, &Options{Precision: Fixed16})},
		{"full scale", of(c, plate(10e-3), "L-L", g, &Options{FullScale: 100})},
		{"other full scale", of(c, plate(10e-3), "L-L", g, &Options{FullScale: 101})},
	} {
		if before, ok := seen[test.fingerprint]; ok {
			t.Errorf("%s: the fingerprint of %s", test.name, before)
		}
		seen[test.fingerprint] = test.name
	}
}
