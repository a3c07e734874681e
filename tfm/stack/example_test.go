// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack_test

import (
	"context"
	"fmt"
	"io"
	"log"
	"os"
	"path/filepath"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/tfm/stack"
	"github.com/isochron-imaging/isochron/tfm/stream"
	"github.com/isochron-imaging/isochron/wedge"
)

// A plate of 20 mm with a drilled hole, which begins and ends along the scan, is imaged in steps of
// 1 mm. Two frames are lost. The stack is seen from above. The scene is invented.
func Example() {
	ctx := context.Background()
	folder, err := os.MkdirTemp("", "stack")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	name := filepath.Join(folder, "plate.json")
	hole := synth.Drilled{X: 3e-3, Z: 12e-3, Diameter: 2e-3, From: 10e-3, To: 18e-3}
	recorded, setup := record(ctx, hole)

	grid, err := tfm.NewSection(-4e-3, 8e-3, 6e-3, 16e-3, 0.25e-3)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, recorded.Capture(), setup, "L-L", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	layout := &stack.Layout{
		Frames: recorded.Len(), Pitch: 1e-3, Values: stack.Int16,
		Views: []stack.View{{Name: "L-L", Reference: 6e5}},
	}
	frames := recorded.Source(0, recorded.Len())
	lossy := func(ctx context.Context) (fmc.Frame, error) { // frames 3 and 4 do not come
		for {
			f, err := frames(ctx)
			if err != nil || f.Index != 3 && f.Index != 4 {
				return f, err
			}
		}
	}
	report, err := stack.Image(ctx, name, []*tfm.Plan{plan}, layout, stream.CaptureSource(plan, lossy), nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d frames imaged, %d missing\n", report.Imaged, report.Missing)

	s, err := stack.Open(name)
	if err != nil {
		log.Fatal(err)
	}
	defer s.Close()
	weld := stack.Source{Stack: s, Pose: stack.Along(scan.Line{X: -20e-3})} // the array runs beside x = 0
	p, err := stack.Project(ctx, []stack.Source{weld}, nil)
	if err != nil {
		log.Fatal(err)
	}
	_, cell := p.Plan.Peak()
	q, err := weld.Point(p.Plan.Places[cell])
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("strongest at x = %.0f mm, depth %.0f mm\n", q.X*1e3, q.Z*1e3)

	m, err := picture.LevelMap(&p.Plan, -24)
	if err != nil {
		log.Fatal(err)
	}
	m.Title = "plate with a hole, from above"
	x := hole.X - 20e-3
	m.Reflectors = [][]r2.Vec{{
		{X: hole.From, Y: x - 1e-3}, {X: hole.To, Y: x - 1e-3}, {X: hole.To, Y: x + 1e-3}, {X: hole.From, Y: x + 1e-3}, {X: hole.From, Y: x - 1e-3},
	}}
	if err := m.WritePNG(io.Discard); err != nil { // or a file
		log.Fatal(err)
	}
	// Output:
	// 24 frames imaged, 2 missing
	// strongest at x = -17 mm, depth 11 mm
}

// record returns a scan of a steel plate with a flaw, and its set-up.
func record(ctx context.Context, flaw synth.Flaw) (*synth.Scan, *wedge.Setup) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, steel, 20e-3)
	if err != nil {
		log.Fatal(err)
	}
	array, err := fmc.LinearArray(12, 1e-3, fmc.Array{Width: 0.8e-3, CentreFrequency: 3e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	direct, err := wedge.ParseView("L-L")
	if err != nil {
		log.Fatal(err)
	}
	part := &synth.Part{
		Scene: synth.Scene{Setup: *plate, Array: array, Length: 8e-3, Views: []wedge.View{direct}},
		Flaws: []synth.Flaw{flaw},
	}
	pass := synth.Pass{Positions: synth.Steps(0, 1e-3, 26), Noise: 0.002, Bits: 14, Seed: 1}
	recorded, err := synth.NewScan(ctx, part, pass, synth.Recording{Samples: 400, SampleRate: 40e6})
	if err != nil {
		log.Fatal(err)
	}
	return recorded, plate
}

// Two machines image the halves of a scan. The merged stack has the bytes of one
// run.
func ExampleMerge() {
	ctx := context.Background()
	folder, err := os.MkdirTemp("", "stack")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	recorded, setup := record(ctx, synth.Drilled{Z: 12e-3, Diameter: 2e-3, From: 4e-3, To: 8e-3})
	grid, err := tfm.NewSection(-1e-3, 1e-3, 10e-3, 13e-3, 0.5e-3)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, recorded.Capture(), setup, "L-L", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	layout := &stack.Layout{Frames: recorded.Len(), Pitch: 1e-3, Views: []stack.View{{Name: "L-L", Reference: 1e5}}}
	image := func(file string, from, to int) string {
		name := filepath.Join(folder, file)
		source := stream.CaptureSource(plan, recorded.Source(from, to))
		if _, err := stack.Image(ctx, name, []*tfm.Plan{plan}, layout, source, &stack.Options{From: from, To: to}); err != nil {
			log.Fatal(err)
		}
		return name
	}
	second, first := image("second.json", 13, 26), image("first.json", 0, 13)
	holes, err := stack.Merge(filepath.Join(folder, "merged.json"), second, first)
	if err != nil {
		log.Fatal(err)
	}
	image("whole.json", 0, 26)
	merged, err := os.ReadFile(filepath.Join(folder, "merged.npy"))
	if err != nil {
		log.Fatal(err)
	}
	whole, err := os.ReadFile(filepath.Join(folder, "whole.npy"))
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("holes:", len(holes), "same bytes:", string(merged) == string(whole))
	// Output: holes: 0 same bytes: true
}
