// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// flatMap returns an invented map over 20 mm × 10 mm that falls along z and grows along x.
func flatMap(t *testing.T, view string, falls, grows float64) *Map {
	t.Helper()
	m := &Map{View: view, Reflector: Point{}}
	m.Grid = check.Must(tfm.NewSection(0, 20e-3, 0, 10e-3, 1e-3))
	m.Data = make([]float32, m.Len())
	for i := range m.Data {
		p := m.Point(i)
		m.Data[i] = float32(math.Exp(grows*p.X-falls*p.Z) * 1e-3)
	}
	return m
}

// TestSurvey compares a survey of frames on lines at several skews with the definition. For each cell
// all frames are tried. The place in the frame comes from the rotation by the skew, written out.
func TestSurvey(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 1))
	maps := []*Map{flatMap(t, "T-T", 100, 0), flatMap(t, "TT-T", -60, 20)}
	maps[1].Data[45] = 0 // a pixel without a ray
	s := check.Must(NewSurvey(
		scan.Axis{From: -8e-3, Step: 1.7e-3, Steps: 14}, scan.Axis{From: 0, Step: 1.3e-3, Steps: 20}, scan.Axis{From: -1e-3, Step: 1.1e-3, Steps: 12}))
	type frame struct{ x, y, skew, loss float64 }
	var frames []frame
	const reach = 0.9e-3
	for _, line := range []frame{{x: -10e-3, skew: 0.2}, {x: 12e-3, skew: math.Pi - 0.1}, {x: 2e-3, skew: math.Pi / 2}} {
		for range 9 {
			f := frame{x: line.x, y: 28e-3 * random.Float64(), skew: line.skew, loss: 6 * random.NormFloat64()}
			pose := check.Must(scan.Line{X: f.x, Skew: f.skew}.Pose(f.y, 0))
			if err := s.Add(pose, reach, f.loss, maps...); err != nil {
				t.Fatal(err)
			}
			frames = append(frames, f)
		}
	}
	holes := 0
	for k := range s.Z.Steps {
		for i := range s.X.Steps {
			for j := range s.Y.Steps {
				want, view := 0.0, ""
				for _, f := range frames {
					dx, dy := s.X.Position(i)-f.x, s.Y.Position(j)-f.y
					sin, cos := math.Sincos(f.skew)
					if math.Abs(cos*dy-sin*dx) > reach {
						continue
					}
					x, z := cos*dx+sin*dy, s.Z.Position(k)
					column, row := math.Round(x/1e-3), math.Round(z/1e-3)
					if column < 0 || column > 20 || row < 0 || row > 10 {
						continue
					}
					for _, m := range maps {
						a := math.Pow(10, -f.loss/20) * float64(m.Data[int(row)*21+int(column)])
						if a > want {
							want, view = a, m.View
						}
					}
				}
				cell := (k*s.X.Steps+i)*s.Y.Steps + j
				if got := float64(s.Amplitude[cell]); !(math.Abs(got-want) <= 1e-6*want) || s.View(cell) != view {
					t.Fatalf("cell %d, %d, %d: amplitude %v in %q, want %v in %q", i, j, k, got, s.View(cell), want, view)
				}
				if want == 0 {
					holes++
				}
			}
		}
	}
	if holes == 0 || holes == len(s.Amplitude) {
		t.Errorf("%d of %d cells are not seen: want some", holes, len(s.Amplitude))
	}
}

// TestSurveyHoles has a scan with frames that are missing and frames of poor coupling. The shares are
// counted by hand: 100 positions of 1 mm, each with one cell of 1 mm.
func TestSurveyHoles(t *testing.T) {
	m := flatMap(t, "T-T", 0, 0)
	area := []wedge.Outline{{{X: 4.5e-3, Y: 2.5e-3}, {X: 9.5e-3, Y: 2.5e-3}, {X: 9.5e-3, Y: 6.5e-3}, {X: 4.5e-3, Y: 6.5e-3}, {X: 4.5e-3, Y: 2.5e-3}}}
	s := check.Must(NewSurvey(scan.Axis{Step: 1e-3, Steps: 20}, scan.Axis{Step: 1e-3, Steps: 100}, scan.Axis{Step: 1e-3, Steps: 10}))
	for i := range 100 {
		if i >= 30 && i < 37 {
			continue // missing
		}
		loss := 0.0
		if i >= 60 && i < 71 {
			loss = 9 // poor coupling
		}
		pose := check.Must(scan.Line{}.Pose(float64(i)*1e-3, 0))
		if err := s.Add(pose, 0.5e-3-1e-9, loss, m); err != nil {
			t.Fatal(err)
		}
	}
	best := float64(m.Data[0])
	for _, row := range []struct {
		name        string
		level, want float64
	}{
		{"all but the missing frames", -12, 0.93},
		{"without the poor coupling", -6, 0.82},
		{"no frame is above the map", 0.1, 0},
	} {
		check.Within(t, row.name, check.Must(s.Coverage(area, best, row.level)), row.want, 1e-12)
	}
	weakest := check.Must(s.Weakest(area))
	for column, cell := range weakest {
		i, j := column/100, column%100
		if within := i >= 5 && i <= 9; within != (cell >= 0) {
			t.Fatalf("x of step %d: cell %d, want one in the area: %v", i, cell, within)
		}
		if cell >= 0 && (s.Amplitude[cell] == 0) != (j >= 30 && j < 37) {
			t.Fatalf("y of step %d: amplitude %v", j, s.Amplitude[cell])
		}
	}
	falling := check.Must(NewSurvey(s.X, s.Y, s.Z))
	if err := falling.Add(check.Must(scan.Line{}.Pose(0.05, 0)), 1, 0, flatMap(t, "T-T", 100, 0)); err != nil {
		t.Fatal(err)
	}
	// The map falls along z, so the deepest cell of the area sees worst: row 6.
	if cell, want := check.Must(falling.Weakest(area))[5*100+50], (6*20+5)*100+50; cell != want {
		t.Errorf("weakest cell %d, want %d", cell, want)
	}
}

// TestHide hides the pixels that an image leaves blank, and no others.
func TestHide(t *testing.T) {
	m := flatMap(t, "T-T", 0, 0)
	states := make([]tfm.State, m.Len())
	states[3], states[7] = tfm.Blank|tfm.AfterRecord, tfm.AfterRecord
	hidden := check.Must(m.Hide(states))
	for i, a := range hidden.Data {
		if blank := i == 3; (a == 0) != blank || (hidden.States[i] != 0) != blank || m.Data[i] == 0 {
			t.Errorf("pixel %d: amplitude %v, state %v", i, a, hidden.States[i])
		}
	}
	if same := check.Must(m.Hide(nil)); same.States != nil || same.Data[3] != m.Data[3] {
		t.Error("no states change the map")
	}
	_, err := m.Hide(states[1:])
	check.Error(t, err, "230 states", "231 pixels")
}

// TestSurveyErrors has arguments that are out of range.
func TestSurveyErrors(t *testing.T) {
	axis := scan.Axis{Step: 1e-3, Steps: 10}
	for _, row := range []struct {
		name string
		axis scan.Axis
		want string
	}{
		{"no step", scan.Axis{Steps: 3}, "axis Y"},
		{"not finite", scan.Axis{From: math.NaN(), Step: 1, Steps: 3}, "axis Y"},
		{"no cells", scan.Axis{Step: 1e-3}, "axis Y of 0 steps"},
		{"closed", scan.Axis{Step: 1e-3, Steps: 3, Closed: true}, "closed"},
		{"too many", scan.Axis{Step: 1e-3, Steps: 1 << 22}, "cells"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := NewSurvey(axis, row.axis, axis)
			check.Error(t, err, row.want)
		})
	}
	s, m := check.Must(NewSurvey(axis, axis, axis)), flatMap(t, "T-T", 0, 0)
	pose := check.Must(scan.Line{}.Pose(0, 0))
	off := pose
	off.Origin.X = math.Inf(1)
	check.Error(t, s.Add(scan.Pose{}, 1e-3, 0, m), "axis X of the pose", "unit vector")
	check.Error(t, s.Add(off, 1e-3, 0, m), "origin")
	check.Error(t, s.Add(pose, 0, 0, m), "reach 0 m")
	check.Error(t, s.Add(pose, 1e-3, math.NaN(), m), "loss NaN dB")
	check.Error(t, s.Add(pose, 1e-3, 0), "map")
	for i := range 255 {
		m.View = "view " + string(rune('a'+i))
		if err := s.Add(pose, 1e-3, 0, m); err != nil {
			t.Fatal(err)
		}
	}
	m.View = "one more"
	check.Error(t, s.Add(pose, 1e-3, 0, m), "256 views")
	square := []wedge.Outline{{{X: 0, Y: 0}, {X: 1e-3, Y: 0}, {X: 1e-3, Y: 1e-3}, {X: 0, Y: 0}}}
	_, err := s.Coverage(square, 0, -12)
	check.Error(t, err, "reference amplitude 0")
	_, err = s.Coverage(nil, 1, -12)
	check.Error(t, err, "no outline")
	far := []wedge.Outline{{{X: 1, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 1e-3}, {X: 1, Y: 0}}}
	_, err = s.Weakest(far)
	check.Error(t, err, "within the survey")
}

// BenchmarkSurvey adds a frame to the survey of a weld of 500 mm in cells of 0.5 mm × 1 mm × 0.5 mm.
func BenchmarkSurvey(b *testing.B) {
	m := &Map{View: "T-T", Reflector: Point{}}
	m.Grid = check.Must(tfm.NewSection(0, 20e-3, 0, 16e-3, 1e-4))
	m.Data = make([]float32, m.Len())
	s := check.Must(NewSurvey(scan.Axis{Step: 0.5e-3, Steps: 41}, scan.Axis{Step: 1e-3, Steps: 501}, scan.Axis{Step: 0.5e-3, Steps: 33}))
	pose := scan.Pose{Origin: r3.Vec{Y: 0.25}, X: r3.Vec{X: 1}, Y: r3.Vec{Y: 1}, Z: r3.Vec{Z: 1}}
	for b.Loop() {
		if err := s.Add(pose, 0.5e-3, 0, m, m); err != nil {
			b.Fatal(err)
		}
	}
}
