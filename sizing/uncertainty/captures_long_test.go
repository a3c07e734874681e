// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package uncertainty

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestTipsLong compares with slits and notches of full-wave captures. The method is the
// uncertainty that package sizing/tips states. Its limits were chosen on tips_plate1 and
// tips_weld1. Only measured lengths count, not lower bounds.
func TestTipsLong(t *testing.T) {
	held, all := 0, 0
	for _, c := range []struct {
		name           string
		x0, x1, z0, z1 float64 // mm
		views          []string
	}{
		{"notch32", -9, 9, 7.5, 25.5, []string{"L-L", "TL-L"}},
		{"tips_plate1", -9, 9, 7.5, 25.5, []string{"L-L", "TL-L"}},
		{"tips_plate2", -9, 9, 7.5, 25.5, []string{"L-L", "TL-L"}},
		{"weld32", 12, 25, 5, 16.5, []string{"T-T", "TT-T"}},
		{"tips_weld1", 12, 25, 5, 16.5, []string{"T-T", "TT-T"}},
		{"tips_weld2", 12, 25, 5, 16.5, []string{"T-T", "TT-T", "TT-TT"}},
	} {
		record := check.Must(npy.ReadFile("../../testdata/"+c.name+".json", nil))
		setup := check.Must(record.Geometry())
		inputs := fullWaveInputs(record)
		g := check.Must(tfm.NewSection(c.x0*1e-3, c.x1*1e-3, c.z0*1e-3, c.z1*1e-3, 0.12e-3))
		var views []tips.View
		for _, view := range c.views {
			plan := check.Must(tfm.PlanView(t.Context(), record.Capture, setup, view, g, nil))
			views = append(views, tips.View{Name: view, Image: check.Must(plan.Image(t.Context(), record.Capture))})
		}
		flaws := check.Must(tips.Find(t.Context(), record.Capture, setup, views, &tips.Options{Dimension: wedge.Section}))
		for _, f := range flaws {
			if f.LengthIs != tips.Measured {
				continue
			}
			truth, near := npy.Slit{}, math.Inf(1)
			for _, s := range record.Truth.Slits {
				if s.Z0 > s.Z1 {
					s.X0, s.Z0, s.X1, s.Z1 = s.X1, s.Z1, s.X0, s.Z0
				}
				if d := math.Hypot(s.X0-f.Ends[0].At.X, s.Z0-f.Ends[0].At.Z); d < near {
					truth, near = s, d
				}
			}
			model := check.Must(NewModel(record.Capture, setup, f.Evidence[0].View, &Options{Image: &quality.Options{Dimension: wedge.Section}}))
			var ends [2]*Reading
			for i, e := range f.Ends {
				ends[i] = &Reading{Place: check.Must(model.At(r3.Vec{X: e.At.X, Z: e.At.Z})), SNRDB: math.Inf(1), Method: e.Uncertainty}
			}
			for _, r := range []struct {
				budget *Budget
				truth  float64
			}{
				{check.Must(inputs.X(ends[0])), truth.X0},
				{check.Must(inputs.Z(ends[0])), truth.Z0},
				{check.Must(inputs.X(ends[1])), truth.X1},
				{check.Must(inputs.Z(ends[1])), truth.Z1},
				{check.Must(inputs.Length(ends[0], ends[1])), math.Hypot(truth.X1-truth.X0, truth.Z1-truth.Z0)},
				{check.Must(inputs.Tilt(ends[0], ends[1])), math.Atan((truth.X0 - truth.X1) / (truth.Z1 - truth.Z0))},
			} {
				result := r.budget.Result(0.95)
				all++
				if result.Holds(r.truth) {
					held++
				}
				t.Logf("%s, %s in %s, %s: %v, truth %.5f, %v", c.name, f.Method, f.Evidence[0].View, r.budget.Name, result, r.truth, result.Holds(r.truth))
			}
		}
	}
	t.Logf("%d of %d intervals of 95 %% hold the truth", held, all)
	if all < 50 || float64(held) < 0.93*float64(all) {
		t.Errorf("%d of %d intervals of 95 %% hold the truth: want at least 93 %% of at least 50", held, all)
	}
}
