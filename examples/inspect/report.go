// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// summary is the content of indications.json: lengths in metres, angles in radians.
type summary struct {
	Capture string       `json:"capture"`
	Origin  origin       `json:"origin"`
	Flaws   []flawReport `json:"flaws"` // strongest first
	Views   []viewReport `json:"views"`

	notes []string // lines for views that show nothing, then for known reflectors outside the images
}

// viewReport is the result of a view.
type viewReport struct {
	View        string             `json:"view"`
	Picture     string             `json:"picture,omitempty"` // missing if the view shows nothing
	Grid        gridReport         `json:"grid"`
	Reference   referenceReport    `json:"reference"`
	Indications []indicationReport `json:"indications"`
	Walls       []wallReport       `json:"walls"`
	States      map[string]int     `json:"states"` // number of pixels in each state

	ghosts []string // names of the echoes whose lines are in the picture
}

// gridReport describes the grid of a view.
type gridReport struct {
	X      [2]float64 `json:"x_m"` // of the first and the last pixel
	Z      [2]float64 `json:"z_m"`
	Step   float64    `json:"step_m"`
	Pixels [2]int     `json:"pixels"` // along x and z
}

// referenceReport is the reference of the levels of a view.
type referenceReport struct {
	Amplitude float64 `json:"amplitude"` // in the unit of the image
	What      string  `json:"what"`
}

// indicationReport is one indication. Its extents, length and width describe the area within 6 dB
// of its peak. The tilt is positive if the top leans to +x.
type indicationReport struct {
	ID      int        `json:"id"`
	X       float64    `json:"x_m"`
	Z       float64    `json:"z_m"`
	LevelDB float64    `json:"level_db"` // relative to the reference of the view
	ExtentX [2]float64 `json:"extent_x_m"`
	ExtentZ [2]float64 `json:"extent_z_m"`
	Length  float64    `json:"length_m"`
	Width   float64    `json:"width_m"`
	Tilt    float64    `json:"tilt_rad"` // of the long axis from the vertical
	Round   bool       `json:"round"`    // too round to have a long axis
	Edge    bool       `json:"edge"`     // touches the edge of the image
	Merged  bool       `json:"merged"`   // has several peaks
	SNRDB   float64    `json:"snr_db"`   // of the peak over the noise of the image
	States  []string   `json:"states"`   // states of its pixels
	// ExplainedBy is the echo that explains the indication, such as "L-T echo of the back wall".
	// It is missing if no known echo does.
	ExplainedBy string `json:"explained_by,omitempty"`
}

// wallReport is the echo of a wall.
type wallReport struct {
	Wall string `json:"wall"`
	indicationReport
}

// newIndicationReport returns the report of an indication.
func newIndicationReport(f sizing.Indication) indicationReport {
	return indicationReport{
		ID: f.ID, X: f.X, Z: f.Z, LevelDB: f.LevelDB,
		ExtentX: f.ExtentX, ExtentZ: f.ExtentZ, Length: f.Length, Width: f.Width, Tilt: f.Tilt,
		Round: f.Round, Edge: f.Edge, Merged: f.Merged, SNRDB: f.SNRDB, States: stateNames(f.States),
	}
}

// stateNames returns the names of states. A pixel that shows all has none.
func stateNames(s tfm.State) []string {
	if s == 0 {
		return []string{}
	}
	return strings.Split(s.String(), ", ")
}

// add appends the result of a view with its grid.
func (r *summary) add(shown *result, g tfm.Grid) {
	v := viewReport{
		View: shown.view.String(),
		Grid: gridReport{
			X: [2]float64{g.X(0), g.X(g.Cols - 1)}, Z: [2]float64{g.Y(0), g.Y(g.Rows - 1)},
			Step: g.Step.X, Pixels: [2]int{g.Cols, g.Rows},
		},
		Reference:   referenceReport{shown.shown.Reference, shown.shown.What},
		Indications: []indicationReport{},
		Walls:       []wallReport{},
		States:      shown.shown.States,
	}
	if !shown.shown.Blank {
		v.Picture = v.View + ".png"
	}
	for i, f := range shown.indications {
		one := newIndicationReport(f)
		if shown.explained != nil {
			one.ExplainedBy = shown.explained[i]
		}
		v.Indications = append(v.Indications, one)
	}
	for _, g := range shown.ghosts {
		v.ghosts = append(v.ghosts, g.Echo)
	}
	for _, e := range shown.walls {
		v.Walls = append(v.Walls, wallReport{e.Wall, newIndicationReport(e.Indication)})
	}
	r.Views = append(r.Views, v)
}

// writeJSON writes indications.json.
func (r *summary) writeJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(r)
}

// writeCSV writes indications.csv.
func (r *summary) writeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	rows := [][]string{{
		"view", "id", "x_m", "z_m", "level_db",
		"extent_x_from_m", "extent_x_to_m", "extent_z_from_m", "extent_z_to_m",
		"length_m", "width_m", "tilt_rad", "round", "edge", "states", "merged", "snr_db",
	}}
	for _, v := range r.Views {
		for _, i := range v.Indications {
			row := []string{v.View, strconv.Itoa(i.ID)}
			for _, f := range []float64{
				i.X, i.Z, i.LevelDB, i.ExtentX[0], i.ExtentX[1], i.ExtentZ[0], i.ExtentZ[1],
				i.Length, i.Width, i.Tilt,
			} {
				row = append(row, strconv.FormatFloat(f, 'g', -1, 64))
			}
			row = append(row, strconv.FormatBool(i.Round), strconv.FormatBool(i.Edge))
			rows = append(rows, append(row, strings.Join(i.States, "; "),
				strconv.FormatBool(i.Merged), strconv.FormatFloat(i.SNRDB, 'g', -1, 64)))
		}
	}
	return c.WriteAll(rows)
}
