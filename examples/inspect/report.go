// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// report is what indications.json holds: lengths in metres, angles in radians.
type report struct {
	Capture string       `json:"capture"`
	Origin  origin       `json:"origin"`
	Views   []viewReport `json:"views"`

	notes []string // lines to print below the table
}

type viewReport struct {
	View        string             `json:"view"`
	Picture     string             `json:"picture,omitempty"` // none of an empty view
	Grid        gridReport         `json:"grid"`
	Reference   referenceReport    `json:"reference"`
	Indications []indicationReport `json:"indications"`
	Walls       []wallReport       `json:"walls"`
	States      map[string]int     `json:"states"` // pixels of each state that may not show all that lies there
}

// gridReport is where the pixels of a view lie.
type gridReport struct {
	X      [2]float64 `json:"x_m"` // of the first and the last pixel
	Z      [2]float64 `json:"z_m"`
	Step   float64    `json:"step_m"`
	Pixels [2]int     `json:"pixels"` // along x and z
}

// referenceReport is what 0 dB is in a view.
type referenceReport struct {
	Amplitude float64 `json:"amplitude"` // in the unit of the image
	What      string  `json:"what"`
}

// indicationReport is one indication. Its extents, length and width are those of
// the area within 6 dB of its peak.
type indicationReport struct {
	ID      int        `json:"id"`
	X       float64    `json:"x_m"`
	Z       float64    `json:"z_m"`
	LevelDB float64    `json:"level_db"` // of the view's reference
	ExtentX [2]float64 `json:"extent_x_m"`
	ExtentZ [2]float64 `json:"extent_z_m"`
	Length  float64    `json:"length_m"`
	Width   float64    `json:"width_m"`
	Tilt    float64    `json:"tilt_rad"` // of the long axis from the vertical, positive where its top leans to +x
	Round   bool       `json:"round"`    // too round to have a long axis
	Edge    bool       `json:"edge"`     // touches the edge of the image, and may go on beyond it
	States  []string   `json:"states"`   // why pixels of it may not show all that lies there
}

// wallReport is the echo of a wall.
type wallReport struct {
	Wall string `json:"wall"`
	indicationReport
}

func newIndicationReport(f sizing.Indication) indicationReport {
	return indicationReport{
		ID: f.ID, X: f.X, Z: f.Z, LevelDB: f.LevelDB,
		ExtentX: f.ExtentX, ExtentZ: f.ExtentZ, Length: f.Length, Width: f.Width, Tilt: f.Tilt,
		Round: f.Round, Edge: f.Edge, States: stateNames(f.States),
	}
}

// stateNames returns the names of states, none for a pixel that shows all.
func stateNames(s tfm.State) []string {
	if s == 0 {
		return []string{}
	}
	return strings.Split(s.String(), ", ")
}

// add appends what a view shows.
func (r *report) add(shown *result) {
	g := shown.envelope.Grid
	v := viewReport{
		View: shown.view.String(),
		Grid: gridReport{
			X: [2]float64{g.X(0), g.X(g.Cols - 1)}, Z: [2]float64{g.Y(0), g.Y(g.Rows - 1)},
			Step: g.Step.X, Pixels: [2]int{g.Cols, g.Rows},
		},
		Reference:   referenceReport{shown.reference, shown.what},
		Indications: []indicationReport{},
		Walls:       []wallReport{},
		States:      map[string]int{},
	}
	for _, s := range shown.envelope.States {
		for _, name := range stateNames(s) {
			v.States[name]++
		}
	}
	if shown.reference > 0 {
		v.Picture = v.View + ".png"
	}
	for _, f := range shown.indications {
		v.Indications = append(v.Indications, newIndicationReport(f))
	}
	for _, e := range shown.walls {
		v.Walls = append(v.Walls, wallReport{e.wall, newIndicationReport(e.Indication)})
	}
	r.Views = append(r.Views, v)
}

func (r *report) writeJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(r)
}

func (r *report) writeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	rows := [][]string{{"view", "id", "x_m", "z_m", "level_db", "extent_x_from_m", "extent_x_to_m", "extent_z_from_m", "extent_z_to_m", "length_m", "width_m", "tilt_rad", "round", "edge", "states"}}
	for _, v := range r.Views {
		for _, i := range v.Indications {
			row := []string{v.View, strconv.Itoa(i.ID)}
			for _, f := range []float64{i.X, i.Z, i.LevelDB, i.ExtentX[0], i.ExtentX[1], i.ExtentZ[0], i.ExtentZ[1], i.Length, i.Width, i.Tilt} {
				row = append(row, strconv.FormatFloat(f, 'g', -1, 64))
			}
			rows = append(rows, append(row, strconv.FormatBool(i.Round), strconv.FormatBool(i.Edge), strings.Join(i.States, "; ")))
		}
	}
	return c.WriteAll(rows)
}

// print writes the table that people read, in millimetres and degrees.
func (r *report) print(w io.Writer) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "view\tno.\tx/mm\tz/mm\tlevel/dB\tx from\tto\tz from\tto\tlength/mm\twidth/mm\ttilt/°\t")
	var marks marks
	for _, v := range r.Views {
		for _, i := range v.Indications {
			i.print(t, v.View, strconv.Itoa(i.ID), &marks)
		}
		if len(v.Indications) == 0 {
			fmt.Fprintf(t, "%s\tnone\t\t\t\t\t\t\t\t\t\t\t\n", v.View)
		}
		for _, i := range v.Walls {
			i.print(t, v.View, fmt.Sprintf("W%d", i.ID), &marks)
		}
	}
	t.Flush()
	for _, v := range r.Views {
		if v.Reference.What != "" {
			fmt.Fprintf(w, "%s: 0 dB is %s, amplitude %s\n", v.View, v.Reference.What, number(v.Reference.Amplitude))
		}
		for _, i := range v.Walls {
			fmt.Fprintf(w, "%s: W%d is the echo of the %s, and no indication\n", v.View, i.ID, i.Wall)
		}
	}
	for _, v := range r.Views {
		for _, name := range slices.Sorted(maps.Keys(v.States)) {
			share := 100 * float64(v.States[name]) / float64(v.Grid.Pixels[0]*v.Grid.Pixels[1])
			fmt.Fprintf(w, "%s: %.2g %% of the pixels may not show all that lies there: %s\n", v.View, share, name)
		}
	}
	for _, note := range r.notes {
		fmt.Fprintln(w, note)
	}
	if marks.edge {
		fmt.Fprintln(w, "e: the area touches the edge of the image, and may go on beyond it")
	}
	if len(marks.states) > 0 {
		fmt.Fprintf(w, "s: pixels of the area may not show all that lies there (%s); the indication may be larger or stronger\n", strings.Join(marks.states, ", "))
	}
	if marks.round {
		fmt.Fprintln(w, "-: too round to have a long axis")
	}
}

// marks are the marks in a table that need an explanation.
type marks struct {
	edge, round bool
	states      []string
}

// print writes the line of an indication.
func (i *indicationReport) print(w io.Writer, view, id string, seen *marks) {
	if i.Edge {
		id += "e"
		seen.edge = true
	}
	for _, s := range i.States {
		if !slices.Contains(seen.states, s) {
			seen.states = append(seen.states, s)
		}
	}
	if len(i.States) > 0 {
		id += "s"
	}
	tilt := fmt.Sprintf("%.0f", degrees(i.Tilt)+0)
	if i.Round {
		tilt = "-"
		seen.round = true
	}
	fmt.Fprintf(w, "%s\t%s\t%.2f\t%.2f\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%s\t\n", view, id,
		i.X*1e3, i.Z*1e3, i.LevelDB, i.ExtentX[0]*1e3, i.ExtentX[1]*1e3, i.ExtentZ[0]*1e3, i.ExtentZ[1]*1e3, i.Length*1e3, i.Width*1e3, tilt)
}
