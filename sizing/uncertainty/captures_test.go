// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// fullWaveInputs are the uncertainties of a full-wave capture. Its origin states them: echoes of
// walls arrive within one sample of the time of straight rays, and all surfaces lie on a grid of
// 0.025 mm. The speeds may be off by 0.1 %, because waves disperse on a grid (assumed).
func fullWaveInputs(record *npy.Record) *Inputs {
	cell := Limits("", 0, 0.0125e-3, Rectangular)
	p := map[Parameter]Quantity{
		LongitudinalSpeed: {Uncertainty: 0.001 * record.Part.Longitudinal},
		TransverseSpeed:   {Uncertainty: 0.001 * record.Part.Transverse},
		Thickness:         cell, WedgeHeight: cell, ProbePosition: cell, ElementPositions: cell,
		WedgeAngle: {}, ElementSpacing: {},
		TimeZero: Limits("", 0, 20e-9, Rectangular),
	}
	if record.Coupling != nil {
		p[CouplingSpeed] = Quantity{Uncertainty: 0.001 * record.Coupling.Longitudinal}
	}
	return &Inputs{Parameters: p}
}

// clutterDB is how far other waves lie below an echo at its peak, in dB, in full-wave captures
// without noise: 20 was chosen on block16.
const clutterDB = 20

// TestHoles compares with holes of full-wave captures, which contain no ray model. The echo of a
// hole comes from its near face. clutterDB was chosen on block16, and the other captures judge.
// Two holes of sdh32 in the shadow of the first one are left out.
func TestHoles(t *testing.T) {
	chosen, judged := 0, 0
	intervals := 0
	for _, c := range []struct {
		name, view string
		holes      int
	}{
		{"block16", "L-L", 4},
		{"pipe32", "L-L", 3},
		{"wavy32", "L-L", 3},
		{"sdh32", "T-T", 1},
		{"tips_plate2", "L-L", 1},
	} {
		record := check.Must(npy.ReadFile("../../testdata/"+c.name+".json", nil))
		setup := check.Must(record.Geometry())
		inputs := fullWaveInputs(record)
		model := check.Must(NewModel(record.Capture, setup, c.view, &Options{Image: &quality.Options{Dimension: wedge.Section}}))
		for _, hole := range record.Truth.Holes[:c.holes] {
			const half, step = 2.2e-3, 0.1e-3
			g := check.Must(tfm.NewSection(hole.X-half, hole.X+half, hole.Z-half, hole.Z+half, step))
			plan := check.Must(tfm.PlanView(t.Context(), record.Capture, setup, c.view, g, nil))
			in := check.Must(sizing.Find(check.Must(plan.Image(t.Context(), record.Capture)).Envelope(nil), &sizing.Options{Floor: -6}))[0]
			centre := r3.Vec{X: hole.X, Z: hole.Z}
			beam := r3.Unit(check.Must(model.At(centre)).Shift(TimeZero)) // later echoes lie along the beam
			face := r3.Sub(centre, r3.Scale(hole.Diameter/2, beam))

			r := &Reading{Place: check.Must(model.Reflector(r3.Vec{X: in.X, Z: in.Z})), SNRDB: clutterDB, Grid: 0.01 * step}
			x, z := check.Must(inputs.X(r)).Result(0.95), check.Must(inputs.Z(r)).Result(0.95)
			t.Logf("%s: x %v, truth %.5f; z %v, truth %.5f", c.name, x, face.X, z, face.Z)
			if !(max(x.Expanded, z.Expanded) <= 0.25e-3) {
				t.Errorf("%s: intervals ±%v and ±%v m, want at most ±0.25 mm", c.name, x.Expanded, z.Expanded)
			}
			for _, hit := range []bool{x.Holds(face.X), z.Holds(face.Z)} {
				switch {
				case c.name == "block16" && hit:
					chosen++
				case hit:
					judged++
				}
				if c.name != "block16" {
					intervals++
				}
			}
		}
	}
	t.Logf("block16: %d of 8 intervals hold the truth; others: %d of %d", chosen, judged, intervals)
	if chosen < 7 || judged < intervals-1 {
		t.Errorf("intervals of 95 %% hold the truth %d of 8 times in block16, %d of %d times elsewhere", chosen, judged, intervals)
	}
}
