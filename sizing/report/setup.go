// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"github.com/isochron-imaging/isochron/fmc/npy"
)

// setup is the part of a set-up that the page shows.
type setup struct {
	Title   string         `json:"title"`
	Notes   map[string]any `json:"notes"`
	Capture struct {
		Order       string  `json:"order"`
		SampleRate  float64 `json:"sample_rate_hz"`
		FirstSample float64 `json:"first_sample_s"`
	} `json:"capture"`
	Array struct {
		CentreFrequency float64     `json:"centre_frequency_hz"`
		Bandwidth       float64     `json:"bandwidth_6db"`
		Width           float64     `json:"element_width_m"`
		Elements        [][]float64 `json:"element_centres_m"`
	} `json:"array"`
	Coupling *npy.Material `json:"coupling"`
	Surface  struct {
		Shape  string      `json:"shape"`
		Radius float64     `json:"radius_m"`
		Points [][]float64 `json:"points_m"`
	} `json:"surface"`
	Part struct {
		npy.Material
		Thickness float64 `json:"thickness_m"`
	} `json:"part"`
	Truth npy.Truth `json:"truth"`
}

// readSetup reads the set-up of a record.
func readSetup(text json.RawMessage) (*setup, error) {
	s := new(setup)
	if err := json.Unmarshal(text, s); err != nil {
		return nil, fmt.Errorf("report: set-up: %w: %w", ErrField, err)
	}
	if len(s.Array.Elements) == 0 {
		return nil, bad("setup.array.element_centres_m", "empty", "at least one element")
	}
	for i, e := range s.Array.Elements {
		if len(e) < 2 {
			return nil, bad(fmt.Sprintf("setup.array.element_centres_m[%d]", i), fmt.Sprint(e), "two or three coordinates")
		}
	}
	return s, nil
}

// rows returns the set-up as a table.
func (s *setup) rows() (rows []row) {
	add := func(name, format string, values ...any) {
		rows = append(rows, row{Name: name, Value: fmt.Sprintf(format, values...)})
	}
	first, last := s.Array.Elements[0], s.Array.Elements[len(s.Array.Elements)-1]
	add("Array", "%d elements of %.3g mm, centres from %s to %s", len(s.Array.Elements), s.Array.Width*1e3, place(first), place(last))
	add("Frequency", "centre %.4g MHz, bandwidth %.0f %% at 6 dB", s.Array.CentreFrequency/1e6, 100*s.Array.Bandwidth)
	add("Capture", "%s; %.6g MHz, first sample at %.4g µs", s.Capture.Order, s.Capture.SampleRate/1e6, s.Capture.FirstSample*1e6)
	if s.Coupling == nil {
		add("Coupling", "in contact")
	} else {
		add("Coupling", "%s", substance(*s.Coupling))
	}
	add("Part", "%s", substance(s.Part.Material))
	shape := s.Surface.Shape
	if s.Surface.Radius > 0 {
		shape += fmt.Sprintf(" of radius %.5g mm", s.Surface.Radius*1e3)
	}
	if n := len(s.Surface.Points); n > 0 {
		shape += fmt.Sprintf(" of %d measured points", n)
	}
	add("Entry surface", "%s", shape)
	add("Thickness", "%.5g mm", s.Part.Thickness*1e3)
	if n := len(s.Truth.Holes) + len(s.Truth.Slits); n > 0 {
		add("Known reflectors", "%d holes and %d slits in the set-up. The flaw list does not use them.", len(s.Truth.Holes), len(s.Truth.Slits))
	}
	for _, name := range slices.Sorted(maps.Keys(s.Notes)) {
		value := fmt.Sprint(s.Notes[name])
		if number, ok := s.Notes[name].(float64); ok {
			value = strconv.FormatFloat(number, 'g', -1, 64)
		}
		add("Note: "+name, "%s", value)
	}
	return rows
}

// place returns the x and z of an element, which has two or three coordinates.
func place(e []float64) string {
	return fmt.Sprintf("x %s, z %s mm", fixed(e[0]*1e3, 2), fixed(e[len(e)-1]*1e3, 2))
}

// substance returns a material with its speeds.
func substance(m npy.Material) string {
	text := fmt.Sprintf("%s, longitudinal %.5g m/s", m.Name, m.Longitudinal)
	if m.Transverse > 0 {
		text += fmt.Sprintf(", transverse %.5g m/s", m.Transverse)
	}
	return text
}

// repeatRows returns what is needed to repeat the measurement, as a table.
func (r *Record) repeatRows() []row {
	e, s := r.Environment, r.Settings
	rows := []row{
		{"Record", fmt.Sprintf("%s, version %d", Schema, Version), false},
		{"Library", e.Module + " " + e.Release, false},
		{"Toolchain and processor", fmt.Sprintf("%s, %s, %s instructions", e.Go, e.GOARCH, e.Vector), false},
		{"SHA-256 of the samples", r.Capture.Samples, true},
		{"SHA-256 of the set-up", r.Capture.Setup, true},
	}
	add := func(name, format string, values ...any) {
		rows = append(rows, row{Name: name, Value: fmt.Sprintf(format, values...)})
	}
	for i, v := range s.Views {
		g := v.Grid
		add("View "+v.Name, "%d × %d pixels of %.4g × %.4g mm from x %s, z %s mm; band %.4g to %.4g MHz; kernel %s",
			g.Cols, g.Rows, g.Step[0]*1e3, g.Step[2]*1e3, fixed(g.Origin[0]*1e3, 3), fixed(g.Origin[2]*1e3, 3),
			r.Views[i].Band[0]/1e6, r.Views[i].Band[1]/1e6, r.Views[i].Kernel)
	}
	add("Contours of indications", "6 dB below each peak")
	floor := fmt.Sprintf("%.4g dB", s.Floor)
	if s.Floor == 0 {
		floor = "from the noise of each image"
		if s.Lowest < 0 {
			floor += fmt.Sprintf(", at the lowest %.4g dB", s.Lowest)
		}
	}
	add("Floor of indications", "%s", floor)
	add("Least level above the background", "%.4g dB", s.Background)
	if s.FullScale > 0 {
		add("The receiver clips at", "%.6g", s.FullScale)
	}
	if s.Inputs != nil {
		for _, q := range s.Inputs.Parameters {
			add("Standard uncertainty of "+q.Name, "%.3g (SI), %s", q.Uncertainty, q.Shape)
		}
	}
	for _, f := range r.Files {
		rows = append(rows, row{"SHA-256 of " + f.Name, f.SHA256, true})
	}
	return rows
}
