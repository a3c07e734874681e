// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

func read(t testing.TB, name string) (*npy.Record, *wedge.Setup) {
	t.Helper()
	record := check.Must(npy.ReadFile(filepath.Join("..", "..", "testdata", name+".json"), nil))
	return record, check.Must(record.Geometry())
}

// TestSpeedOfCapture finds the speed of the aluminium of a full-wave capture from its four holes.
// The two deeper holes alone do not determine it.
func TestSpeedOfCapture(t *testing.T) {
	if testing.Short() {
		t.Skip("captures")
	}
	record, setup := read(t, "block16")
	var regions []tfm.Grid
	for _, h := range record.Truth.Holes {
		regions = append(regions, check.Must(tfm.NewSection(h.X-2e-3, h.X+2e-3, 0.82*h.Z, 1.18*h.Z, 0.25e-3)))
	}
	trial := PartSpeed(setup, record.Capture.Array.Elements, material.L)
	within := wedge.Interval{Min: 5400, Max: 7400}
	options := &FocusOptions{Radius: record.Truth.Holes[0].Diameter / 2}
	f := check.Must(Focus(t.Context(), record.Capture, "L-L", regions, trial, within, options))
	t.Logf("speed %.0f ± %.0f m/s, drop %.1f dB", f.Value.Value, f.Value.Uncertainty, f.Drop)
	if f.Verdict != Determined {
		t.Errorf("%v, want %v", f.Verdict, Determined)
	}
	check.Within(t, "speed, m/s", f.Value.Value, record.Part.Longitudinal, 2*f.Value.Uncertainty)
	check.Within(t, "uncertainty, m/s", f.Value.Uncertainty, 0, 80)
	deep := check.Must(Focus(t.Context(), record.Capture, "L-L", regions[2:], trial, within, options))
	if deep.Verdict != Flat {
		t.Errorf("the deeper holes: %v at %v, want %v", deep.Verdict, deep.Value, Flat)
	}
}
