// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// pulse is an echo with a Gaussian envelope.
type pulse struct{ amplitude, soundPath float64 }

// width is the standard deviation of the envelope of a pulse in s.
const width = 0.15e-6

// gaussian returns the A-scan of a beam of transverse waves at an angle in a plate of 10 mm on a
// wedge, with pulses of 4 MHz. The centre of the aperture is 8 mm above the plate.
func gaussian(t testing.TB, angle float64, pulses ...pulse) (*Trace, *wedge.Setup) {
	t.Helper()
	setup := check.Must(wedge.NewPlate(&plastic, steel, 10*mm))
	tracer := check.Must(newTracer(setup, material.T))
	line := check.Must(tracer.line(r3.Vec{X: -5 * mm, Z: -8 * mm}, angle, 60*mm))
	trace := &Trace{
		Beam: &Beam{Angle: angle, Mode: material.T}, Line: line, SampleRate: 50e6, FirstSample: 1e-6,
		Analytic: make([]complex64, 2000),
	}
	for k := range trace.Analytic {
		for _, p := range pulses {
			late := trace.Time(float64(k)) - line.Time(p.soundPath)
			envelope := p.amplitude * math.Exp(-late*late/(2*width*width))
			trace.Analytic[k] += complex64(complex(envelope, 0) * cmplx.Exp(complex(0, 2*math.Pi*4e6*late)))
		}
	}
	return trace, setup
}

// TestReadings compares readings of Gaussian echoes with closed forms. The flank of a Gaussian echo
// of height H crosses the threshold h at σ·√(2·ln(H/h)) before its peak.
func TestReadings(t *testing.T) {
	const angle = 50 * degree
	trace, setup := gaussian(t, angle, pulse{40, 11.003 * mm}, pulse{80, 25.0071 * mm})
	reader := &Reader{FullHeight: 100, Gain: 6, Setup: setup, Front: 7 * mm}
	gain := math.Pow(10, 6.0/20)
	early := func(height, threshold float64) float64 {
		return steel.Transverse / 2 * width * math.Sqrt(2*math.Log(height*gain/threshold))
	}
	sin, cos := math.Sincos(angle)
	for _, test := range []struct {
		name   string
		gate   Gate
		height float64 // % at a gain of 0 dB; 0 for nothing
		path   float64
		edge   bool
	}{
		{"first echo", Gate{Start: 9 * mm, End: 13 * mm, Threshold: 20}, 40, 11.003 * mm, false},
		{"the higher of two echoes", Gate{Start: 5 * mm, End: 35 * mm, Threshold: 20}, 80, 25.0071 * mm, false},
		{"flank of the first echo", Gate{Start: 5 * mm, End: 35 * mm, Threshold: 20, Flank: true},
			40, 11.003*mm - early(40, 20), false},
		{"flank above the first echo", Gate{Start: 5 * mm, End: 35 * mm, Threshold: 100, Flank: true},
			80, 25.0071*mm - early(80, 100), false},
		{"nothing in the gate", Gate{Start: 14 * mm, End: 20 * mm, Threshold: 20}, 0, 0, false},
		{"threshold above all echoes", Gate{Start: 5 * mm, End: 35 * mm, Threshold: 170}, 0, 0, false},
		{"flank above all echoes", Gate{Start: 5 * mm, End: 35 * mm, Threshold: 170, Flank: true}, 0, 0, false},
		{"a gate outside the record", Gate{Start: 900 * mm, End: 1e30, Threshold: 20}, 0, 0, false},
		{"a gate between two samples", Gate{Start: 11.003 * mm, End: 11.0031 * mm, Threshold: 20}, 0, 0, false},
		{"a gate in time", Gate{
			Start: trace.Line.Time(9 * mm), End: trace.Line.Time(13 * mm), Threshold: 20, InTime: true,
		}, 40, 11.003 * mm, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			got := check.Must(reader.Read(trace, []Gate{test.gate}))[0]
			if got.Found != (test.height > 0) {
				t.Fatalf("found %v: %+v", got.Found, got)
			}
			if !got.Found {
				for what, v := range map[string]float64{
					"height": got.Height, "time": got.Time, "sound path": got.SoundPath, "depth": got.Depth,
					"level": got.Level, "x": got.Point.X,
				} {
					if !math.IsNaN(v) {
						t.Errorf("%s %v without an echo, want NaN", what, v)
					}
				}
				return
			}
			if got.AtEdge != test.edge || got.Partial {
				t.Errorf("at the edge %v, partial %v", got.AtEdge, got.Partial)
			}
			check.Within(t, "height", got.Height, test.height*gain, 1e-4*test.height)
			check.Within(t, "level", got.Level, 6+20*math.Log10(test.height/100), 1e-3)
			check.Within(t, "above threshold", got.AboveThreshold, 6+20*math.Log10(test.height/test.gate.Threshold), 1e-3)
			check.Within(t, "sound path", got.SoundPath, test.path, 1e-6)
			check.Within(t, "time", got.Time, trace.Line.Time(test.path), 1e-9)
			depth := test.path * cos
			leg := 1 + int(depth/(10*mm))
			if leg == 2 {
				depth = 20*mm - depth
			}
			check.Within(t, "depth", got.Depth, depth, 1e-6)
			if got.Leg != leg {
				t.Errorf("leg %d, want %d", got.Leg, leg)
			}
			check.Within(t, "surface distance", got.SurfaceDistance, test.path*sin, 1e-6)
			check.Within(t, "projected distance", got.ProjectedDistance, trace.Line.Exit.X+test.path*sin-7*mm, 1e-6)
		})
	}
}

// TestBackwards checks that distances are positive in the direction of a beam to -x.
func TestBackwards(t *testing.T) {
	trace, setup := gaussian(t, -50*degree, pulse{40, 11 * mm})
	reader := &Reader{FullHeight: 100, Setup: setup, Front: -9 * mm}
	got := check.Must(reader.Read(trace, []Gate{{Start: 9 * mm, End: 13 * mm, Threshold: 20}}))[0]
	check.Within(t, "surface distance", got.SurfaceDistance, 11*mm*math.Sin(50*degree), 1e-6)
	check.Within(t, "projected distance", got.ProjectedDistance, -9*mm-got.Point.X, 1e-9)
}

// TestEdges checks readings at the ends of a gate and of the record, and in partial samples.
func TestEdges(t *testing.T) {
	trace, setup := gaussian(t, 50*degree, pulse{40, 11 * mm}, pulse{100, 50 * mm})
	reader := &Reader{FullHeight: 100, Setup: setup}
	read := func(g Gate) Reading {
		t.Helper()
		g.Threshold = 5
		r := check.Must(reader.Read(trace, []Gate{g}))[0]
		if !r.Found {
			t.Fatalf("nothing found in %+v", g)
		}
		return r
	}
	// A sample is 0.033 mm long here.
	before := read(Gate{Start: 9 * mm, End: 10.8 * mm})
	if !before.AtEdge {
		t.Error("the gate ends before the peak, but the reading is not at its edge")
	}
	check.Within(t, "end of the gate", before.SoundPath, 10.8*mm, 0.033*mm)
	behind := read(Gate{Start: 11.2 * mm, End: 13 * mm})
	if !behind.AtEdge {
		t.Error("the gate starts after the peak, but the reading is not at its edge")
	}
	check.Within(t, "start of the gate", behind.SoundPath, 11.2*mm, 0.033*mm)
	flank := read(Gate{Start: 11 * mm, End: 13 * mm, Flank: true})
	if !flank.AtEdge {
		t.Error("the gate starts behind the flank, but the reading is not at its edge")
	}
	check.Within(t, "start of the gate on a flank", flank.SoundPath, 11*mm, 0.033*mm)
	peak := read(Gate{Start: 9 * mm, End: 13 * mm})
	trace.Partial = [][2]int{{3, 5}, {int(trace.sample(peak.Time)), int(trace.sample(peak.Time)) + 2}}
	if r := read(Gate{Start: 9 * mm, End: 13 * mm}); !r.Partial {
		t.Error("the peak lies in partial samples, but the reading is not partial")
	}
	// The record ends in the second echo.
	trace.Partial = nil
	cut := int(trace.sample(trace.Line.Time(49.9 * mm)))
	trace.Analytic = trace.Analytic[:cut]
	if r := read(Gate{Start: 45 * mm, End: 55 * mm}); !r.AtEdge {
		t.Error("the record ends before the peak, but the reading is not at the edge")
	}
	// The record starts in the first echo.
	first := &Trace{Beam: trace.Beam, Line: trace.Line, SampleRate: 50e6, Analytic: []complex64{9, 8, 7, 6}}
	first.FirstSample = trace.Line.Time(20 * mm)
	for _, onFlank := range []bool{false, true} {
		r := check.Must(reader.Read(first, []Gate{{Start: 15 * mm, End: 25 * mm, Threshold: 1, Flank: onFlank}}))[0]
		if !r.AtEdge || !(math.Abs(r.SoundPath-20*mm) <= 1e-9) || r.Height != 9 {
			t.Errorf("flank %v: %+v, want the first sample as an edge", onFlank, r)
		}
		last := first.Line.SoundPath(first.Time(3))
		r = check.Must(reader.Read(first, []Gate{{Start: last - 1e-9, End: last + 1*mm, Threshold: 1, Flank: onFlank}}))[0]
		if !r.AtEdge || r.Height != 6 {
			t.Errorf("flank %v: %+v, want the last sample as an edge", onFlank, r)
		}
	}
}

// TestFollow checks gates that start at the echo of another gate, in sound path and in time.
func TestFollow(t *testing.T) {
	// The highest echo lies between the interface and the gates after it.
	trace, setup := gaussian(t, 0, pulse{60, -0.7 * mm}, pulse{90, 6 * mm}, pulse{30, 9.3 * mm})
	reader := &Reader{FullHeight: 100, Setup: setup}
	gates := []Gate{
		{Name: "interface", Start: -3 * mm, End: 3 * mm, Threshold: 20},
		{Name: "wall", Start: 9 * mm, End: 11 * mm, Threshold: 20, After: "interface"},
		{Name: "in time", Start: 2 * 9 * mm / steel.Transverse, End: 2 * 11 * mm / steel.Transverse,
			Threshold: 20, After: "interface", InTime: true},
		{Name: "empty", Start: 30 * mm, End: 40 * mm, Threshold: 20},
		{Name: "after nothing", Start: 1 * mm, End: 40 * mm, Threshold: 20, After: "empty"},
	}
	got := check.Must(reader.Read(trace, gates))
	check.Within(t, "interface", got[0].SoundPath, -0.7*mm, 1e-6)
	if got[0].Leg != 0 || !math.IsNaN(got[0].Depth) {
		t.Errorf("leg %d, depth %v before the exit point, want 0 and NaN", got[0].Leg, got[0].Depth)
	}
	check.Within(t, "wall after the interface", got[1].SoundPath-got[0].SoundPath, 10*mm, 1e-6)
	check.Within(t, "wall in time", got[2].Time, got[1].Time, 0)
	if got[3].Found || got[4].Found {
		t.Error("found an echo in an empty gate")
	}
	// A later interface shifts the gate with it.
	gates[1].Start, gates[1].End = 9.9*mm, 10.1*mm
	shifted, _ := gaussian(t, 0, pulse{60, 1.5 * mm}, pulse{30, 11.5 * mm})
	got = check.Must(reader.Read(shifted, gates))
	check.Within(t, "shifted wall", got[1].SoundPath, 11.5*mm, 1e-6)
}

// TestPairReadings reads the trace of a pair, which has times, but no place.
func TestPairReadings(t *testing.T) {
	record, setup := captured(t, "block16")
	pair := fmc.Pair{Tx: 4, Rx: 4}
	trace := check.Must(NewPair(record.Capture, pair, tfm.Band{}))
	reader := &Reader{FullHeight: 1, Setup: setup}
	// The element at x = -3.5 mm, over the hole at x = -3 mm: its near face by Pythagoras.
	hole := record.Truth.Holes[1]
	element := record.Capture.Array.Elements[4]
	want := 2 * (math.Hypot(hole.X-element.X, hole.Z) - hole.Diameter/2) / record.Part.Longitudinal
	gate := Gate{Start: want - 0.5e-6, End: want + 0.5e-6, InTime: true, Threshold: 1}
	got := check.Must(reader.Read(trace, []Gate{gate}))[0]
	// One element alone sees other waves too: the tolerance is two samples.
	check.Within(t, "time", got.Time, want, 2/trace.SampleRate)
	if !got.Found || got.Leg != 0 || !math.IsNaN(got.SoundPath) || !math.IsNaN(got.Depth) {
		t.Errorf("%+v, want an echo without a sound path", got)
	}
	_, err := reader.Read(trace, []Gate{{Start: 1, End: 2, Threshold: 1}})
	check.Error(t, err, "gate in time")
	_, err = reader.BackWall(trace, gate)
	check.Error(t, err, "pair")
	_, err = NewPair(record.Capture, fmc.Pair{Tx: 4, Rx: 16}, trace.Band)
	check.Error(t, err, "4→16")
	_, err = NewPair(record.Capture, pair, tfm.Band{Low: 2, High: 1})
	check.Error(t, err, "pass band")
	envelope := make([]float64, len(trace.Analytic))
	if got := trace.Envelope(envelope); &got[0] != &envelope[0] {
		t.Error("the envelope was allocated again")
	}
}

// TestBadGates checks that each bad field is named.
func TestBadGates(t *testing.T) {
	trace, setup := gaussian(t, 0, pulse{60, 5 * mm})
	good := Gate{Name: "A", Start: 1 * mm, End: 3 * mm, Threshold: 20}
	for _, test := range []struct {
		word   string
		change func(*Gate, *Reader)
	}{
		{"threshold 0", func(g *Gate, _ *Reader) { g.Threshold = 0 }},
		{"start before the end", func(g *Gate, _ *Reader) { g.End = g.Start }},
		{"NaN", func(g *Gate, _ *Reader) { g.Start = math.NaN() }},
		{"earlier gate", func(g *Gate, _ *Reader) { g.After = "A" }},
		{"full height 0", func(_ *Gate, r *Reader) { r.FullHeight = 0 }},
		{"gain +Inf", func(_ *Gate, r *Reader) { r.Gain = math.Inf(1) }},
		{"without an entry surface", func(_ *Gate, r *Reader) { r.Setup = new(wedge.Setup) }},
		{"front at x = NaN", func(_ *Gate, r *Reader) { r.Front = math.NaN() }},
	} {
		t.Run(test.word, func(t *testing.T) {
			g, reader := good, &Reader{FullHeight: 100, Setup: setup}
			test.change(&g, reader)
			_, err := reader.Read(trace, []Gate{g})
			check.Error(t, err, test.word)
		})
	}
	_, err := (&Reader{FullHeight: 1}).Read(nil, []Gate{good})
	check.Error(t, err, "no trace")
	bare := check.Must((&Reader{FullHeight: 100}).Read(trace, []Gate{{Start: 4 * mm, End: 6 * mm, Threshold: 20}}))[0]
	if n := new(Line).Length(); n != 0 {
		t.Errorf("length %v m of a line without legs, want 0", n)
	}
	if p, leg := new(Line).At(0); leg != 0 || !math.IsNaN(p.X) {
		t.Errorf("leg %d at %v on a line without legs, want 0 and NaN", leg, p)
	}
	if bare.Leg != 1 || !math.IsNaN(bare.Depth) {
		t.Errorf("leg %d, depth %v without a set-up, want 1 and NaN", bare.Leg, bare.Depth)
	}
}

// TestBackWall compares the echoes of a wall with a constant delay, which the thickness must not
// show, with the straight line that made them. The steps are 9.9, 10.1 and 10.0 mm: the slope by
// least squares, worked by hand, is (3·30.0 + 10.1)/10 = 10.01 mm.
func TestBackWall(t *testing.T) {
	trace, setup := gaussian(t, 0, pulse{80, 10.4 * mm}, pulse{60, 20.3 * mm}, pulse{50, 30.4 * mm}, pulse{30, 40.4 * mm},
		pulse{8, 50.4 * mm})
	reader := &Reader{FullHeight: 100, Setup: setup}
	gate := Gate{Name: "wall", Start: 8 * mm, End: 12 * mm, Threshold: 10}
	wall := check.Must(reader.BackWall(trace, gate))
	if len(wall.Echoes) != 4 || len(wall.Steps) != 3 {
		t.Fatalf("%d echoes, %d steps, want 4 above the threshold, 3 steps", len(wall.Echoes), len(wall.Steps))
	}
	check.Within(t, "thickness", wall.Thickness, 10.01*mm, 1e-6)
	for i, want := range []float64{9.9, 10.1, 10} {
		check.Within(t, "step", wall.Steps[i], want*mm, 1e-6)
	}
	gate.Threshold = 70
	wall = check.Must(reader.BackWall(trace, gate))
	if len(wall.Echoes) != 1 || !math.IsNaN(wall.Thickness) {
		t.Errorf("%d echoes, thickness %v, want one echo and NaN", len(wall.Echoes), wall.Thickness)
	}
	gate.Threshold = 90
	_, err := reader.BackWall(trace, gate)
	check.Error(t, err, "no first back-wall echo")
	_, err = reader.BackWall(trace, Gate{Name: "cut", Start: 8 * mm, End: 10.2 * mm, Threshold: 10})
	check.Error(t, err, "cut off")
	_, err = reader.BackWall(trace, Gate{Start: 1 * mm, End: 2 * mm, Threshold: 10, After: "x"})
	check.Error(t, err, "after gate")
	_, err = reader.BackWall(nil, gate)
	check.Error(t, err, "no trace")
	if diff := cmp.Diff("wall", wall.Echoes[0].Gate); diff != "" {
		t.Error(diff)
	}
}
