// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stack"
	"github.com/isochron-imaging/isochron/tfm/stream"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestScanStack images the frames of a scan into a stack on the disk. The stack knows the
// positions of the frames. Its images show the hole with half the echo at its ends, so its length at
// -6 dB is its true length.
func TestScanStack(t *testing.T) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, steel, 20e-3)
	if err != nil {
		t.Fatal(err)
	}
	array, err := fmc.LinearArray(4, 1e-3, fmc.Array{Width: 0.8e-3, CentreFrequency: 3e6, Bandwidth: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	direct, err := wedge.ParseView("L-L")
	if err != nil {
		t.Fatal(err)
	}
	hole := synth.Drilled{Z: 12e-3, Diameter: 2e-3, From: 10.2e-3, To: 21.7e-3}
	part := &synth.Part{
		Scene: synth.Scene{Setup: *plate, Array: array, Length: 8e-3, Views: []wedge.View{direct}},
		Flaws: []synth.Flaw{hole},
	}
	pass := synth.Pass{Positions: synth.Steps(4e-3, 1e-3, 25), Noise: 0.001, Bits: 14, Seed: 1}
	recorded, err := synth.NewScan(t.Context(), part, pass, synth.Recording{Samples: 400, SampleRate: 40e6})
	if err != nil {
		t.Fatal(err)
	}
	grid, err := tfm.NewSection(-0.5e-3, 0.5e-3, 10e-3, 12e-3, 0.25e-3)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := tfm.PlanView(t.Context(), recorded.Capture(), &part.Scene.Setup, "L-L", grid, nil)
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "hole.json")
	layout := &stack.Layout{Frames: recorded.Len(), Pitch: 1e-3, Views: []stack.View{{Name: "L-L", Reference: 1}}}
	source := stream.CaptureSource(plan, recorded.Source(0, recorded.Len()))
	report, err := stack.Image(t.Context(), name, []*tfm.Plan{plan}, layout, source, nil)
	if err != nil || report.Imaged != recorded.Len() {
		t.Fatal(report, err)
	}
	images, err := stack.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer images.Close()
	var levels []float64
	for i, s := range pass.Positions {
		if f := images.Frame(i); f.Position != s {
			t.Errorf("frame %d at %v m: want %v m", i, f.Position, s)
		}
		envelope, err := images.Envelope(nil, i, 0)
		if err != nil {
			t.Fatal(err)
		}
		level, _ := envelope.Peak()
		levels = append(levels, float64(level))
	}
	half := levels[12] / 2 // the middle of the hole
	end := func(i, step int) float64 {
		for levels[i] >= half {
			i += step
		}
		share := (half - levels[i]) / (levels[i-step] - levels[i])
		return pass.Positions[i] - float64(step)*share*1e-3
	}
	from, to := end(12, -1), end(12, 1)
	if !(math.Abs(from-hole.From) <= 0.2e-3 && math.Abs(to-hole.To) <= 0.2e-3) {
		t.Errorf("-6 dB from %.2f to %.2f mm: want %.2f to %.2f mm", from*1e3, to*1e3, hole.From*1e3, hole.To*1e3)
	}
}
