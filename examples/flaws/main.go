// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Flaws makes a report of one list of flaws from several views: a record, a table for
// spreadsheets, and a page to print.
//
//	go run ./examples/flaws
//
// It writes flaws.png and, beside it, flaws.json, flaws.csv and flaws.html. The record holds the
// set-up, the settings and the hash of the samples: report.Repeat measures again from it, years
// later. The numbers are the list, with uncertainties of 95 %, beside the truth. A face that
// mirrors the beam hides its ends, so its length is a lower bound. Entry 3 is no flaw: an echo on
// another path, which the list does not explain. The picture marks each flaw in the views that
// show it.
//
// A list is no verdict. Trained personnel interpret it by the written procedure, and the code
// decides what is acceptable. The capture is a full-wave simulation of testdata; the flaws are
// invented.
package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "flaws.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	input, err := npy.ReadFile("testdata/weld32.json", nil)
	if err != nil {
		return err
	}
	setup, err := input.Geometry()
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(13e-3, 24e-3, 5e-3, 16.6e-3, 0.12e-3)
	if err != nil {
		return err
	}
	// Peaks 12 dB above the background and at most 30 dB below the strongest count.
	settings := &report.Settings{Background: 12, Lowest: -30, Section: true}
	for _, view := range []string{"T-T", "TT-T"} {
		settings.Views = append(settings.Views, report.ViewSettings{Name: view, Grid: report.NewGrid(grid)})
	}
	measured, err := report.Measure(context.Background(), "weld32", input, settings, nil)
	if err != nil {
		return err
	}
	record := measured.Record
	for _, f := range record.Flaws {
		fmt.Fprintf(w, "%d: %v at (%.1f, %.1f) mm in %v, length %.1f ± %.1f mm (%v)\n", f.ID, f.Kind,
			f.X*1e3, f.Z*1e3, f.Views, f.Length*1e3, f.LengthU*1e3, f.LengthIs)
	}
	for _, s := range input.Truth.Slits {
		fmt.Fprintf(w, "true slit from (%.1f, %.1f) to (%.1f, %.1f) mm, length %.1f mm\n",
			s.X0*1e3, s.Z0*1e3, s.X1*1e3, s.Z1*1e3, math.Hypot(s.X1-s.X0, s.Z1-s.Z0)*1e3)
	}
	sheet := &picture.Panels{Title: "A weld: lack of fusion on a bevel, and a root notch"}
	for i, e := range measured.Envelopes {
		levels, err := e.Decibels(nil, float32(record.Views[i].Reference), -30)
		if err != nil {
			return err
		}
		s := &picture.Section{Title: "view " + record.Views[i].Name, Levels: levels,
			Part: picture.Surfaces(setup, grid), Reflectors: picture.Reflectors(input.Truth)}
		for _, f := range record.Flaws {
			if !slices.Contains(f.Views, record.Views[i].Name) {
				continue
			}
			s.Marks = append(s.Marks, picture.Mark{At: r2.Vec{X: f.X, Y: f.Z}, Label: fmt.Sprint(f.ID)})
		}
		sheet.Pictures = append(sheet.Pictures, s)
	}
	var png bytes.Buffer
	if err := sheet.WritePNG(&png); err != nil {
		return err
	}
	content := map[string][]byte{filepath.Base(out): png.Bytes()}
	record.Files = append(record.Files, report.NewFile(filepath.Base(out), sheet.Title,
		"Levels of two views over x and depth. The numbers are the numbers of the list.", png.Bytes()))
	page := func(w io.Writer) error { return record.WritePage(w, content) }
	return errors.Join(os.WriteFile(out, png.Bytes(), 0o666), write(out, ".json", record.WriteJSON),
		write(out, ".csv", record.WriteCSV), write(out, ".html", page))
}

// write writes a file beside the picture.
func write(out, ending string, write func(io.Writer) error) error {
	var text bytes.Buffer
	if err := write(&text); err != nil {
		return err
	}
	return os.WriteFile(strings.TrimSuffix(out, filepath.Ext(out))+ending, text.Bytes(), 0o666)
}
