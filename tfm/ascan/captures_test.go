// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// The full-wave captures of testdata share nothing with the ray model of this library. Time 0 is
// the centre of the envelope of the transmitted pulse, and a peak is the centre of the envelope of
// the echo. Half a sample of time is a quarter of a sample times the speed in sound path.

// halfSample returns half a sample of an A-scan as a sound path in m.
func halfSample(t *Trace) float64 { return t.Line.Speed / t.SampleRate / 4 }

// readOne reads the highest echo within 2 mm of a sound path.
func readOne(t testing.TB, trace *Trace, reader *Reader, soundPath float64) Reading {
	t.Helper()
	readings := check.Must(reader.Read(trace, []Gate{{Start: soundPath - 2*mm, End: soundPath + 2*mm, Threshold: 1}}))
	if r := readings[0]; !r.Found || r.AtEdge || r.Partial {
		t.Fatalf("reading at %v m: %+v", soundPath, r)
	}
	return readings[0]
}

// TestBlockHoles reads the near face of each hole of block16, with the six elements nearest to the
// hole, focused at the face. The exact solution of elastic scattering by a cavity (package synth)
// puts the peak behind the near face. The readings of the full-wave capture and of this solution
// agree within a fifth of a sample, a limit that was chosen on the first two holes.
func TestBlockHoles(t *testing.T) {
	record, setup := captured(t, "block16")
	scene := &synth.Scene{Setup: *setup, Array: record.Capture.Array, Views: []wedge.View{check.Must(wedge.ParseView("L-L"))}}
	for _, hole := range record.Truth.Holes {
		scene.Reflectors = append(scene.Reflectors, synth.Hole{X: hole.X, Z: hole.Z, Diameter: hole.Diameter})
	}
	exact := check.Must(synth.Synthesise(ctx, scene, synth.Recording{Samples: 700, SampleRate: 50e6}))
	for _, hole := range record.Truth.Holes {
		first := int(math.Round(min(max(hole.X/mm+7.5-2.5, 0), 10)))
		beam := Beam{Mode: material.L, Elements: elements(first, 6)}
		beam = check.Must(Aim(setup, record.Capture.Array, beam, r3.Vec{X: hole.X, Z: hole.Z}, 1))
		face := beam.Transmit.SoundPath - hole.Diameter/2
		beam.Transmit.SoundPath, beam.Receive.SoundPath = face, face
		trace := traces(t, record.Capture, setup, beam)[0]
		got := readOne(t, trace, &Reader{FullHeight: 1, Setup: setup}, face)
		t.Logf("hole at z = %v m: %.4f mm behind the near face", hole.Z, (got.SoundPath-face)/mm)
		check.Within(t, "near face", got.SoundPath, face, halfSample(trace))
		predicted := traces(t, exact, setup, beam)[0]
		solution := readOne(t, predicted, &Reader{FullHeight: slices.Max(predicted.Envelope(nil)) / 100}, face)
		t.Logf("exact solution: %.4f mm behind the near face", (solution.SoundPath-face)/mm)
		check.Within(t, "exact solution", got.SoundPath, solution.SoundPath, 0.4*halfSample(trace))
		near(t, "reading", got.Point, r3.Vec{
			X: trace.Line.Exit.X + face*math.Sin(beam.Angle), Z: face * math.Cos(beam.Angle),
		}, halfSample(trace))
	}
}

// TestBlockWall reads a hole and the back wall of block16 from one A-scan: a straight beam over the
// hole at x = 3 mm, with dynamic focusing.
func TestBlockWall(t *testing.T) {
	record, setup := captured(t, "block16")
	beam := Beam{
		Mode: material.L, Elements: elements(6, 10),
		Transmit: Focus{Dynamic: true}, Receive: Focus{Dynamic: true},
	}
	trace := traces(t, record.Capture, setup, beam)[0]
	near(t, "exit point", trace.Line.Exit, r3.Vec{X: 3 * mm}, 1e-9)
	hole := record.Truth.Holes[2]
	reader := &Reader{FullHeight: slices.Max(trace.Envelope(nil)), Setup: setup}
	for _, want := range []float64{hole.Z - hole.Diameter/2, record.Thickness} {
		got := readOne(t, trace, reader, want)
		t.Logf("%.3f mm at %.1f %%, %.4f mm behind the geometry", got.SoundPath/mm, got.Height, (got.SoundPath-want)/mm)
		check.Within(t, "sound path", got.SoundPath, want, halfSample(trace))
		check.Within(t, "depth", got.Depth, want, halfSample(trace))
	}
	// An unfocused beam reads the wall late, because the waves between distant elements are late.
	beam.Transmit, beam.Receive = Focus{}, Focus{}
	late := readOne(t, traces(t, record.Capture, setup, beam)[0], reader, record.Thickness)
	check.Within(t, "wall, unfocused", late.SoundPath, record.Thickness+0.08*mm, 0.02*mm)

	whole := Beam{Mode: material.L, Transmit: Focus{SoundPath: 25 * mm}, Receive: Focus{SoundPath: 25 * mm}}
	record, setup = captured(t, "notch32")
	trace = traces(t, record.Capture, setup, whole)[0]
	got := readOne(t, trace, &Reader{FullHeight: 1, Setup: setup}, record.Thickness)
	t.Logf("notch32: back wall at %.4f mm", got.SoundPath/mm)
	check.Within(t, "back wall of notch32", got.SoundPath, record.Thickness, halfSample(trace))
}

// TestWeldAngleBeam reads weld32 with an angle beam of the whole array through the wedge: the
// middle of the fusion face, and the corner of the root notch and the back wall. The slits are 0.15
// mm wide, so that their near faces lie 0.075 mm before their axes.
func TestWeldAngleBeam(t *testing.T) {
	record, setup := captured(t, "weld32")
	slits := record.Truth.Slits
	fusion, notch := slits[0], slits[1]
	along := r3.Unit(r3.Vec{X: fusion.X1 - fusion.X0, Z: fusion.Z1 - fusion.Z0})
	before := r3.Scale(fusion.Width/2, r3.Vec{X: along.Z, Z: -along.X}) // towards the array
	middle := r3.Vec{X: (fusion.X0 + fusion.X1) / 2, Z: (fusion.Z0 + fusion.Z1) / 2}
	for _, test := range []struct {
		name  string
		point r3.Vec
	}{
		{"fusion face", r3.Add(middle, before)},
		{"corner of the notch", r3.Vec{X: notch.X1 - notch.Width/2, Z: notch.Z1}},
	} {
		beam := check.Must(Aim(setup, record.Capture.Array, Beam{Mode: material.T}, test.point, 1))
		trace := traces(t, record.Capture, setup, beam)[0]
		reader := &Reader{FullHeight: 1, Setup: setup, Front: 4 * mm}
		got := readOne(t, trace, reader, beam.Transmit.SoundPath)
		t.Logf("%s, beam of %.1f°: %.4f mm behind the geometry", test.name, beam.Angle/degree, (got.SoundPath-beam.Transmit.SoundPath)/mm)
		check.Within(t, test.name, got.SoundPath, beam.Transmit.SoundPath, halfSample(trace))
		near(t, test.name, got.Point, test.point, halfSample(trace))
		check.Within(t, "surface distance", got.SurfaceDistance, got.Point.X-trace.Line.Exit.X, 1e-9)
		check.Within(t, "projected distance", got.ProjectedDistance, got.Point.X-4*mm, 1e-9)
	}
}

// TestPipeThickness reads the wall of pipe32 through water: the interface, and the thickness from
// two successive back-wall echoes, between the holes. The two apertures mirror each other. The
// focus was chosen on the first, the second judges it.
func TestPipeThickness(t *testing.T) {
	record, setup := captured(t, "pipe32")
	for _, first := range []int{2, 18} {
		focus := Focus{SoundPath: 27 * mm}
		beam := Beam{Mode: material.L, Elements: elements(first, 12), Transmit: focus, Receive: focus}
		trace := traces(t, record.Capture, setup, beam)[0]
		reader := &Reader{FullHeight: slices.Max(trace.Envelope(nil)), Setup: setup}
		gates := []Gate{
			{Name: "interface", Start: -2 * mm, End: 2 * mm, Threshold: 20},
			{Name: "wall", Start: 12 * mm, End: 16 * mm, Threshold: 5, After: "interface"},
		}
		readings := check.Must(reader.Read(trace, gates))
		check.Within(t, "interface", readings[0].SoundPath, 0, halfSample(trace))
		wall := check.Must(reader.BackWall(trace, Gate{Name: "wall", Start: 12 * mm, End: 16 * mm, Threshold: 5}))
		if len(wall.Echoes) != 2 {
			t.Fatalf("%d back-wall echoes, want 2", len(wall.Echoes))
		}
		t.Logf("interface at %.4f mm, first echo at %.4f mm, thickness %.4f mm",
			readings[0].SoundPath/mm, wall.Echoes[0].SoundPath/mm, wall.Thickness/mm)
		check.Within(t, "first back-wall echo", wall.Echoes[0].SoundPath, record.Thickness, halfSample(trace))
		check.Within(t, "thickness", wall.Thickness, record.Thickness, halfSample(trace))
		if readings[1].Time != wall.Echoes[0].Time {
			t.Errorf("the gate after the interface reads %v s, want %v s", readings[1].Time, wall.Echoes[0].Time)
		}
	}
}
