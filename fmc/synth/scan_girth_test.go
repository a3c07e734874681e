// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// The girth weld, as its documentation says, in m.
const (
	girthRadius = 168.3e-3 / 2
	girthWall   = 14e-3
)

// TestGirthTruth checks the places of all flaws of a girth weld: one after another along the arc, in
// the wall, on the bevel of 30°, at the root, in the weld.
func TestGirthTruth(t *testing.T) {
	part, _, err := synth.GirthWeld(2, 4)
	if err != nil {
		t.Fatal(err)
	}
	if part.Radius != girthRadius || len(part.Flaws) != 17 {
		t.Fatalf("radius %v m, %d flaws: want %v m, 17 flaws, one for each 30 mm", part.Radius, len(part.Flaws), girthRadius)
	}
	bevel := func(p r3.Vec) float64 { return 33e-3 - (girthWall-1e-3-p.Z)*math.Tan(math.Pi/6) - p.X }
	end := 0.0
	for i, f := range part.Flaws {
		from, to := f.Span()
		if !(from > end && to > from && to < 2*math.Pi*girthRadius) {
			t.Errorf("flaw %d from %v to %v m: the flaw before ends at %v m", i, from, to, end)
		}
		end = to
		if pores, ok := f.(synth.Pores); ok {
			for _, p := range pores.Spheres() {
				if !(math.Abs(p.Position.X-34e-3) < 2.1e-3 && p.Position.Z > 2e-3 && p.Position.Z < 12e-3) {
					t.Errorf("flaw %d: pore at %v m", i, p.Position)
				}
			}
			continue
		}
		crack, ok := f.(synth.Planar).At((from + to) / 2)
		if !ok {
			t.Fatalf("flaw %d is not in its middle", i)
		}
		if crack.Rooted {
			if crack.To != (r3.Vec{X: 33e-3, Z: girthWall}) || crack.From.X != 33e-3 {
				t.Errorf("flaw %d from %v to %v m: want a notch at the root", i, crack.From, crack.To)
			}
		} else if !(math.Abs(bevel(crack.From)) < 1e-9 && math.Abs(bevel(crack.To)) < 1e-9 && crack.To.Z < girthWall) {
			t.Errorf("flaw %d from %v to %v m: want it on the bevel", i, crack.From, crack.To)
		}
	}
}

// TestGirthImages images the first three flaws of a girth weld in the frame at the middle of each. The
// peak must lie within 0.4 mm of a true section of the flaw in the beam.
func TestGirthImages(t *testing.T) {
	part, recording, err := synth.GirthWeld(12, 4)
	if err != nil {
		t.Fatal(err)
	}
	const beam = 4e-3 // half the width of the beam along the scan
	part.Flaws = part.Flaws[:3]
	pass := synth.Pass{FullScale: 1}
	for _, f := range part.Flaws {
		from, to := f.Span()
		pass.Positions = append(pass.Positions, (from+to)/2)
	}
	scan, err := synth.NewScan(t.Context(), part, pass, recording)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range []struct {
		name, view string
	}{{"lack of fusion", "TT-TT"}, {"notch", "TT-T"}, {"pores", "T-T"}} {
		capture := scan.Capture()
		if _, err := scan.Frame(t.Context(), i, capture); err != nil {
			t.Fatal(err)
		}
		at := peakOf(t, capture, &part.Scene.Setup, row.view)
		off := math.Inf(1)
		switch f := part.Flaws[i].(type) {
		case synth.Planar:
			for _, ahead := range synth.Steps(-beam, beam/4, 9) {
				if crack, ok := f.At(pass.Positions[i] + ahead); ok {
					along := r3.Sub(crack.To, crack.From)
					share := min(max(r3.Dot(r3.Sub(at, crack.From), along)/r3.Norm2(along), 0), 1)
					off = min(off, r3.Norm(r3.Sub(at, r3.Add(crack.From, r3.Scale(share, along)))))
				}
			}
		case synth.Pores:
			for _, p := range f.Spheres() {
				if math.Abs(p.Position.Y-pass.Positions[i]) < beam {
					p.Position.Y = 0
					off = min(off, math.Abs(r3.Norm(r3.Sub(at, p.Position))-p.Diameter/2))
				}
			}
		}
		if !(off <= 0.4e-3) {
			t.Errorf("%s: peak at x = %.2f, z = %.2f mm, %.2f mm off the flaw", row.name, at.X*1e3, at.Z*1e3, off*1e3)
		}
	}
}

// peakOf returns the place of the largest indication of the weld.
func peakOf(t *testing.T, capture *fmc.Capture, setup *wedge.Setup, view string) r3.Vec {
	t.Helper()
	grid, err := tfm.NewSection(24e-3, 38e-3, 2e-3, 14.2e-3, 2e-4)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := tfm.PlanView(t.Context(), capture, setup, view, grid, nil)
	if err != nil {
		t.Fatal(err)
	}
	image, err := plan.Image(t.Context(), capture)
	if err != nil {
		t.Fatal(err)
	}
	found, err := sizing.Find(image.Envelope(nil), &sizing.Options{Floor: -3})
	if err != nil || len(found) == 0 {
		t.Fatal(found, err)
	}
	return r3.Vec{X: found[0].X, Z: found[0].Z}
}

// TestScanRoundPipe compares the times of the echoes of a pore, while one element moves round a pipe,
// with the distance of element and pore in coordinates.
func TestScanRoundPipe(t *testing.T) {
	const depth, arc = 15e-3, 40e-3
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	setup, err := wedge.NewPlate(nil, steel, 20e-3)
	if err != nil {
		t.Fatal(err)
	}
	direct, err := wedge.ParseView("L-L")
	if err != nil {
		t.Fatal(err)
	}
	array := fmc.Array{Elements: []r3.Vec{{}}, Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6}
	part := &synth.Part{
		Scene:  synth.Scene{Setup: *setup, Array: array, Length: 1.5e-3, Views: []wedge.View{direct}},
		Radius: girthRadius,
		Flaws: []synth.Flaw{synth.Pores{
			S: arc, Z: depth, Count: 1, Smallest: 2e-3, Largest: 2e-3,
		}},
	}
	pass := synth.Pass{Positions: []float64{arc, arc - 4e-3, arc + 9e-3, arc - 14e-3}, FullScale: 1}
	recording := synth.Recording{Samples: 700, SampleRate: 50e6}
	scan, err := synth.NewScan(t.Context(), part, pass, recording)
	if err != nil {
		t.Fatal(err)
	}
	capture := scan.Capture()
	var first, straight float64
	for i, s := range pass.Positions {
		if _, err := scan.Frame(t.Context(), i, capture); err != nil {
			t.Fatal(err)
		}
		sin, cos := math.Sincos((s - arc) / girthRadius)
		chord := math.Hypot((girthRadius-depth)*sin, girthRadius-(girthRadius-depth)*cos)
		time := centre(capture.Trace(0)) / recording.SampleRate
		if i == 0 {
			first, straight = time, chord
			continue
		}
		if want := first + 2*(chord-straight)/steel.Longitudinal; !(math.Abs(time-want) <= 15e-9) {
			t.Errorf("echo at %.4f µs, %v m round the pipe: want %.4f µs", time*1e6, s-arc, want*1e6)
		}
	}
}

// centre returns the sample of the centre of the energy of a trace.
func centre(trace []float32) float64 {
	var sum, moment float64
	for k, v := range trace {
		energy := float64(v) * float64(v)
		sum += energy
		moment += energy * float64(k)
	}
	return moment / sum
}
