// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Corrosion scans an invented corroded plate in a raster, and maps what is left of the wall. It
// writes the map as a picture and as CSV, and the summary as JSON, and prints the true values
// beside the readings.
//
//	go run ./examples/corrosion
//
// The plate is computed (package synth): its wall thins from 12.0 to 11.6 mm, and has three round
// pits with flat bottoms. On the way the coupling fails once, and some frames are missing. The speed
// that the reader is told is wrong by 10 m/s, within its stated uncertainty.
//
// A map of a real part must be made by qualified personnel on checked equipment. The applicable code
// decides on fitness for service.
package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/examples/internal/output"
	"github.com/isochron-imaging/isochron/sizing/thickness"
)

func main() {
	var out string
	command.Command{
		Name:  "corrosion",
		About: "Corrosion scans an invented corroded plate and maps its thickness.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&out, "out", "corrosion", "the `FOLDER` for corrosion.png, corrosion.csv and corrosion.json")
		},
		Notes: "The applicable code and licensed personnel decide on fitness for service.",
		Run: func(ctx context.Context, w, _ io.Writer) error {
			return run(ctx, w, out)
		},
	}.Main()
}

// limit is an invented limit of the thickness. The applicable code has the limit of a real part.
const limit = 8e-3 // m

func run(ctx context.Context, w io.Writer, folder string) error {
	p, err := newPlate()
	if err != nil {
		return err
	}
	m, err := scan(ctx, p)
	if err != nil {
		return err
	}
	summary, err := m.Summary(&thickness.SummaryOptions{Limit: limit})
	if err != nil {
		return err
	}
	if err := report(w, p, m, summary); err != nil {
		return err
	}
	files := output.Files{Folder: folder}
	if err := files.Add("corrosion.csv", m.WriteCSV); err != nil {
		return err
	}
	err = files.Add("corrosion.json", func(w io.Writer) error {
		lines := json.NewEncoder(w)
		lines.SetIndent("", "  ")
		return lines.Encode(summary)
	})
	if err != nil {
		return err
	}
	if err := files.Add("corrosion.png", chart(p, m, summary).WritePNG); err != nil {
		return err
	}
	if err := files.Commit(); err != nil {
		return err
	}
	fmt.Fprintf(w, "\nwritten: corrosion.png, corrosion.csv and corrosion.json in %s\n", folder)
	return nil
}
