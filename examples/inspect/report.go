// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"text/tabwriter"

	"github.com/isochron-imaging/isochron/sizing"
)

// report is what indications.json holds: lengths in metres, angles in radians.
type report struct {
	Capture string       `json:"capture"`
	Views   []viewReport `json:"views"`

	notes []string // lines to print below the table
}

type viewReport struct {
	View        string             `json:"view"`
	Indications []indicationReport `json:"indications"`
}

// indicationReport is one indication. Its extents, length and width are those of
// the area within 6 dB of its peak.
type indicationReport struct {
	ID      int        `json:"id"`
	X       float64    `json:"x_m"`
	Z       float64    `json:"z_m"`
	LevelDB float64    `json:"level_db"` // of the view's highest peak
	ExtentX [2]float64 `json:"extent_x_m"`
	ExtentZ [2]float64 `json:"extent_z_m"`
	Length  float64    `json:"length_m"`
	Width   float64    `json:"width_m"`
	Tilt    float64    `json:"tilt_rad"` // of the long axis from the vertical, positive where its top leans to +x

	round, edge bool
}

// add appends the indications of a view.
func (r *report) add(view string, found []sizing.Indication) {
	v := viewReport{View: view, Indications: []indicationReport{}}
	for _, f := range found {
		v.Indications = append(v.Indications, indicationReport{
			ID: f.ID, X: f.X, Z: f.Z, LevelDB: f.LevelDB,
			ExtentX: f.ExtentX, ExtentZ: f.ExtentZ, Length: f.Length, Width: f.Width, Tilt: f.Tilt,
			round: f.Round, edge: f.Edge,
		})
	}
	r.Views = append(r.Views, v)
}

// write writes indications.json and indications.csv into a folder.
func (r *report) write(dir string) error {
	text, err := json.MarshalIndent(r, "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "indications.json"), append(text, '\n'), 0o666); err != nil {
		return err
	}
	var table bytes.Buffer
	if err := r.writeCSV(&table); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "indications.csv"), table.Bytes(), 0o666)
}

func (r *report) writeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	rows := [][]string{{"view", "id", "x_m", "z_m", "level_db", "extent_x_from_m", "extent_x_to_m", "extent_z_from_m", "extent_z_to_m", "length_m", "width_m", "tilt_rad"}}
	for _, v := range r.Views {
		for _, i := range v.Indications {
			row := []string{v.View, strconv.Itoa(i.ID)}
			for _, f := range []float64{i.X, i.Z, i.LevelDB, i.ExtentX[0], i.ExtentX[1], i.ExtentZ[0], i.ExtentZ[1], i.Length, i.Width, i.Tilt} {
				row = append(row, strconv.FormatFloat(f, 'g', -1, 64))
			}
			rows = append(rows, row)
		}
	}
	return c.WriteAll(rows)
}

// print writes the table that people read, in millimetres and degrees.
func (r *report) print(w io.Writer) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "view\tno.\tx/mm\tz/mm\tlevel/dB\tx from\tto\tz from\tto\tlength/mm\twidth/mm\ttilt/°\t")
	var edge, round bool
	for _, v := range r.Views {
		for _, i := range v.Indications {
			mark := ""
			if i.edge {
				mark, edge = "e", true
			}
			tilt := fmt.Sprintf("%.0f", i.Tilt*180/math.Pi)
			if i.round {
				tilt, round = "-", true
			}
			fmt.Fprintf(t, "%s\t%d%s\t%.2f\t%.2f\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%.1f\t%s\t\n", v.View, i.ID, mark,
				i.X*1e3, i.Z*1e3, i.LevelDB, i.ExtentX[0]*1e3, i.ExtentX[1]*1e3, i.ExtentZ[0]*1e3, i.ExtentZ[1]*1e3, i.Length*1e3, i.Width*1e3, tilt)
		}
		if len(v.Indications) == 0 {
			fmt.Fprintf(t, "%s\tnone\t\t\t\t\t\t\t\t\t\t\t\n", v.View)
		}
	}
	t.Flush()
	for _, note := range r.notes {
		fmt.Fprintln(w, note)
	}
	if edge {
		fmt.Fprintln(w, "e: the area touches the edge of the image, and may go on beyond it")
	}
	if round {
		fmt.Fprintln(w, "-: too round to have a long axis")
	}
}
