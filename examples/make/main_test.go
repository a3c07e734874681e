// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"io"
	"math"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// TestRun reads the capture and images it. The corner and the tip of the crack, and the near face
// of the hole, must lie within 0.5 mm of their true positions.
func TestRun(t *testing.T) {
	name := filepath.Join(t.TempDir(), "plate.json")
	ctx := context.Background()
	if err := run(ctx, io.Discard, name, 1); err != nil {
		t.Fatal(err)
	}
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		t.Fatal(err)
	}
	grid, err := tfm.NewSection(8e-3, 38e-3, 5e-3, 26e-3, 1e-4)
	if err != nil {
		t.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		t.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, record.Capture, setup, "TT-T", grid, nil)
	if err != nil {
		t.Fatal(err)
	}
	image, err := plan.Image(ctx, record.Capture)
	if err != nil {
		t.Fatal(err)
	}
	found, err := sizing.Find(image.Envelope(nil), &sizing.Options{Floor: -24})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []struct {
		name string
		x, z float64
	}{
		{"corner of the crack", crack.To.X, crack.To.Z},
		{"tip of the crack", crack.From.X, crack.From.Z},
		// The face nearest to the array, which is above the hole on the left.
		{"hole", hole.X - hole.Diameter/2*math.Sin(0.9), hole.Z - hole.Diameter/2*math.Cos(0.9)},
	} {
		nearest := math.Inf(1)
		for _, f := range found {
			nearest = min(nearest, math.Hypot(f.X-want.x, f.Z-want.z))
		}
		if !(nearest < 0.5e-3) {
			t.Errorf("%s: nearest indication %.2f mm off", want.name, nearest*1e3)
		}
	}
}
