// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report_test

import (
	"bytes"
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
)

// TestHoles checks that the record of block16 has its four holes as points, at the places of their
// near faces, and its back wall as geometry. The places come from an independent image, listed in
// the README of testdata, in mm.
func TestHoles(t *testing.T) {
	r := holes().Record
	for _, want := range []struct {
		x, z float64
		kind flaw.Kind
	}{
		{-8.65, 9.40, flaw.Point}, {-2.95, 16.30, flaw.Point}, {2.75, 23.35, flaw.Point}, {8.45, 30.40, flaw.Point},
		{0, 40, flaw.Geometry},
	} {
		found := 0
		for _, f := range r.Flaws {
			if math.Hypot(f.X*1e3-want.x, f.Z*1e3-want.z) < 0.4 && f.Kind == want.kind {
				found++
			}
		}
		if found != 1 {
			t.Errorf("%d entries of kind %s at x %v, z %v mm, want 1", found, want.kind, want.x, want.z)
		}
	}
	last := r.Views[0].Indications[len(r.Views[0].Indications)-1]
	if last.Wall != "back wall" || r.Views[0].Indications[0].Wall != "" {
		t.Errorf("the last indication is the echo of %q, want the back wall behind the others", last.Wall)
	}
	if r.Views[0].Indications[0].LevelDB != 0 {
		t.Errorf("the strongest indication that is no wall has %v dB, want 0", r.Views[0].Indications[0].LevelDB)
	}
	for _, f := range r.Flaws {
		for _, in := range f.Indications {
			if got := r.Views[0].Indications[in.ID-1]; got.X != in.X || got.Z != in.Z {
				t.Errorf("flaw %d refers to indication %d at (%v, %v), which lies at (%v, %v)", f.ID, in.ID, in.X, in.Z, got.X, got.Z)
			}
		}
	}
}

// TestReferences checks the settings of 0 dB: the amplitude of the back wall, and its place.
func TestReferences(t *testing.T) {
	wall := holes().Record.Views[0].Indications
	level := wall[len(wall)-1].LevelDB // of the back wall relative to the strongest hole
	for _, test := range []struct {
		name      string
		reference report.Reference
	}{
		{"amplitude", report.Reference{Amplitude: wall[len(wall)-1].Amplitude}},
		{"place", report.Reference{At: &[2]float64{0.2e-3, 40e-3}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := settings(-12, 12, 5, 42, 0.25, "L-L")
			s.Reference = test.reference
			r := check.Must(report.Measure(background, "block16", capture("block16"), s, nil)).Record
			check.Within(t, "level of the strongest hole, dB", r.Views[0].Indications[0].LevelDB, -level, 1e-9)
		})
	}
}

// TestCoarse checks that a coarse grid is imaged if the settings accept it.
func TestCoarse(t *testing.T) {
	s := settings(-12, 12, 5, 42, 1, "L-L")
	input := capture("block16")
	if _, err := report.Measure(background, "block16", input, s, nil); !errors.Is(err, report.ErrCoarse) {
		t.Errorf("error %v, want ErrCoarse", err)
	}
	s.Coarse = true
	r := check.Must(report.Measure(background, "block16", input, s, nil)).Record
	if r.Views[0].States["coarse grid"] == 0 {
		t.Error("no pixel has the state of a coarse grid")
	}
}

// TestLowest checks that no indication lies below the lowest level, and that all others are listed.
func TestLowest(t *testing.T) {
	s := settings(-12, 12, 5, 42, 0.5, "L-L")
	input := capture("block16")
	all := check.Must(report.Measure(background, "block16", input, s, nil)).Record.Views[0].Indications
	s.Lowest = -3
	some := check.Must(report.Measure(background, "block16", input, s, nil)).Record.Views[0].Indications
	want := 0
	for _, in := range all {
		if in.LevelDB >= s.Lowest {
			want++
		}
	}
	if len(some) != want || want == len(all) {
		t.Errorf("%d of %d indications at or above %v dB, want %d", len(some), len(all), s.Lowest, want)
	}
}

// TestBlankView checks that a view that no echo reaches is marked, and that a record of such views
// alone is an error.
func TestBlankView(t *testing.T) {
	s := settings(-12, 12, 5, 42, 0.5, "L-L", "TTTT-TTTT")
	m := check.Must(report.Measure(background, "block16", capture("block16"), s, nil))
	if v := m.Record.Views; v[0].Blank || !v[1].Blank || m.Envelopes[0] == nil || m.Envelopes[1] != nil {
		t.Errorf("blank: %v and %v, want the second view only", v[0].Blank, v[1].Blank)
	}
	text(t, m.Record)
	s = settings(-12, 12, 5, 42, 0.5, "TTTT-TTTT")
	if _, err := report.Measure(background, "block16", capture("block16"), s, nil); !errors.Is(err, report.ErrBlank) {
		t.Errorf("error %v, want ErrBlank", err)
	}
}

// TestEventCapture checks that a capture of events has indications and no flaws.
func TestEventCapture(t *testing.T) {
	input := capture("block16")
	c := *input.Capture
	for i := range c.Array.Elements { // each element alone, as events
		e := fmc.Event{Delays: make([]float64, len(c.Array.Elements)), Weights: make([]float64, len(c.Array.Elements))}
		e.Weights[i] = 1
		c.Events = append(c.Events, e)
	}
	input.Capture = &c
	r := check.Must(report.Measure(background, "block16", input, settings(-12, 12, 5, 42, 0.5, "L-L"), nil)).Record
	if len(r.Flaws) != 0 || len(r.Views[0].Indications) < 4 {
		t.Errorf("%d flaws and %d indications, want 0 and at least 4", len(r.Flaws), len(r.Views[0].Indications))
	}
	text(t, r)
}

// inputs returns parameters of invented uncertainties, 1e-4 of their SI unit each.
func inputs(names ...string) *report.Inputs {
	in := &report.Inputs{}
	for _, name := range names {
		in.Parameters = append(in.Parameters, uncertainty.Quantity{Name: name, Uncertainty: 1e-4})
	}
	return in
}

// TestInputs checks that the uncertainties of the set-up reach the flaws and the page, and are
// repeated. Each parameter of a set-up in contact is needed.
func TestInputs(t *testing.T) {
	s := settings(-12, 12, 5, 42, 0.5, "L-L")
	s.Inputs = inputs("longitudinal speed", "thickness", "probe position", "element spacing", "element positions", "time zero")
	for i := range s.Inputs.Parameters {
		if s.Inputs.Parameters[i].Name == "time zero" {
			s.Inputs.Parameters[i].Uncertainty = 20e-9
		}
	}
	input := capture("block16")
	r := check.Must(report.Measure(background, "block16", input, s, nil)).Record
	for _, f := range r.Flaws {
		// A time zero that is late by 20 ns alone moves a depth by half of 20 ns · 6320 m/s.
		if f.Kind == flaw.Point && !(f.PlaceU > 1.96*0.5*20e-9*6320) {
			t.Errorf("flaw %d: uncertainty %v m of the place, want more than the time zero alone causes", f.ID, f.PlaceU)
		}
	}
	read := check.Must(report.Read(bytes.NewReader(text(t, r))))
	if d := check.Must(report.Repeat(background, read, input, nil)); len(d) > 0 {
		t.Errorf("%d differences, the first: %v", len(d), d[0])
	}
	var page bytes.Buffer
	if err := read.WritePage(&page, nil); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"time zero", "Shares of the variance", "what the picture and the set-up cause"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page does not hold %q", want)
		}
	}
}

// TestSettingsRefused checks that each setting out of range is refused with its name.
func TestSettingsRefused(t *testing.T) {
	input := capture("block16")
	for _, test := range []struct {
		name, word string
		change     func(s *report.Settings)
	}{
		{"no view", "without a view", func(s *report.Settings) { s.Views = nil }},
		{"unknown view", "S-S", func(s *report.Settings) { s.Views[0].Name = "S-S" }},
		{"view twice", "twice", func(s *report.Settings) { s.Views = append(s.Views, s.Views[0]) }},
		{"grid without columns", "view L-L", func(s *report.Settings) { s.Views[0].Grid.Cols = 0 }},
		{"infinite floor", "floor +Inf dB", func(s *report.Settings) { s.Floor = math.Inf(1) }},
		{"lowest level above 0", "lowest level 1 dB", func(s *report.Settings) { s.Lowest = 1 }},
		{"negative background", "background -1 dB", func(s *report.Settings) { s.Background = -1 }},
		{"background that is no number", "background NaN dB", func(s *report.Settings) { s.Background = math.NaN() }},
		{"coarse grid", "more than 2 dB", func(s *report.Settings) { s.Views = settings(-12, 12, 5, 42, 1, "L-L").Views }},
		{"negative full scale", "full scale -1", func(s *report.Settings) { s.FullScale = -1 }},
		{"negative length", "largest length -1 m", func(s *report.Settings) { s.MaxLength = -1 }},
		{"negative uncertainty", "uncertainty -1 dB", func(s *report.Settings) { s.LevelU = -1 }},
		{"unknown parameter", `"weather"`, func(s *report.Settings) { s.Inputs = inputs("weather") }},
		{"parameter twice", "twice", func(s *report.Settings) { s.Inputs = inputs("thickness", "thickness") }},
		{"row without a name", "row 0", func(s *report.Settings) { s.Acceptance = &flaw.Table{Rows: make([]flaw.Row, 1)} }},
		{"negative reference", "amplitude -1", func(s *report.Settings) { s.Reference.Amplitude = -1 }},
		{"two references", "one of them", func(s *report.Settings) { s.Reference = report.Reference{Amplitude: 1, At: new([2]float64)} }},
		{"reference nowhere", "place", func(s *report.Settings) { s.Reference.At = &[2]float64{math.NaN(), 0} }},
		{"reference off any peak", "no peak within 1 mm", func(s *report.Settings) { s.Reference.At = &[2]float64{0, 1} }},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := settings(-12, 12, 5, 42, 0.5, "L-L")
			test.change(s)
			_, err := report.Measure(background, "block16", input, s, nil)
			check.Error(t, err, test.word)
		})
	}
	s := settings(-12, 12, 5, 42, 0.5, "L-L")
	_, err := report.Measure(background, "a/b", input, s, nil)
	check.Error(t, err, "a/b", "without a folder")
	_, err = report.Measure(background, "block16", nil, s, nil)
	check.Error(t, err, "no capture")
	_, err = report.Repeat(background, nil, input, nil)
	check.Error(t, err, "no record")
	ended, cancel := context.WithCancel(background)
	cancel()
	if _, err := report.Measure(ended, "block16", input, s, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v after the end of the context", err)
	}
}

// TestUnchanged checks that the record does not change with the settings of the caller.
func TestUnchanged(t *testing.T) {
	s := settings(-12, 12, 5, 42, 0.5, "L-L")
	s.Reference.At = &[2]float64{0.2e-3, 40e-3}
	s.Inputs = inputs("longitudinal speed", "thickness", "probe position", "element spacing", "element positions", "time zero")
	s.Known = []report.Shape{{Name: "a hole", Outline: [][2]float64{{-9e-3, 10e-3}}, Radius: 0.75e-3}}
	r := check.Must(report.Measure(background, "block16", capture("block16"), s, nil)).Record
	before := text(t, r)
	s.Views[0].Name, s.Reference.At[0], s.Known[0].Outline[0][0] = "T-T", 1, 1
	s.Inputs.Parameters[0].Uncertainty = 1
	if string(text(t, r)) != string(before) {
		t.Error("the record shares memory with the settings")
	}
}
