// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"errors"
	"math"

	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

// flawRow is a flaw of the page. Lengths are in m, angles in rad. Uncertainties are for 95 %.
type flawRow struct {
	ID          int            `json:"id"`
	Kind        flaw.Kind      `json:"kind"`
	X           float64        `json:"x"`
	Z           float64        `json:"z"`
	Ends        *[2][2]float64 `json:"ends"` // null if they are not known
	Length      float64        `json:"length"`
	LengthU     float64        `json:"length_u"`
	LengthIs    tips.Reading   `json:"length_is"`
	Tilt        *float64       `json:"tilt"` // null if it is not known
	TiltU       float64        `json:"tilt_u"`
	Explained   string         `json:"explained"`
	Views       []string       `json:"views"`
	Indications []seen         `json:"indications"`
}

// seen is an indication of a flaw in a view.
type seen struct {
	View string `json:"view"`
	place
}

// flaws answers with the flaws that the usual views show at a setting.
func (s *source) flaws(ctx context.Context, now setting) (*answer, error) {
	record, _, err := now.apply(s.record)
	if err != nil {
		return nil, err
	}
	grid, err := newGrid(record, s.window, s.window.step(40_000))
	if err != nil {
		return nil, err
	}
	settings := &report.Settings{Lowest: -20, Background: 6, Coarse: true}
	for _, view := range s.usual {
		settings.Views = append(settings.Views, report.ViewSettings{Name: view, Grid: report.NewGrid(grid)})
	}
	m, err := report.Measure(ctx, s.name, record, settings, nil)
	if errors.Is(err, report.ErrBlank) {
		return &answer{head: []flawRow{}}, nil
	}
	if err != nil {
		return nil, err
	}
	rows := []flawRow{}
	for _, f := range m.Record.Flaws {
		rows = append(rows, newFlawRow(f))
	}
	return &answer{head: rows}, nil
}

// newFlawRow returns the row of a flaw.
func newFlawRow(f flaw.Flaw) flawRow {
	r := flawRow{
		ID: f.ID, Kind: f.Kind, X: f.X, Z: f.Z, Ends: f.Ends, Length: f.Length, LengthU: f.LengthU, LengthIs: f.LengthIs,
		TiltU: f.TiltU, Explained: f.Explained, Views: f.Views,
	}
	if f.TiltU < math.Pi/2 {
		r.Tilt = &f.Tilt
	}
	for _, in := range f.Indications {
		r.Indications = append(r.Indications, seen{in.View, place{in.X, in.Z, in.LevelDB}})
	}
	return r
}
