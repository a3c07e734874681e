// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Beams reads the tip and the corner of a root notch from the A-scan of an angle beam with gates.
// It draws this A-scan and a sector image.
//
//	go run ./examples/beams
//
// The capture is the weld of testdata, a full-wave simulation. The gates and the height are
// invented. The corner lies beside the axis of the beam, so its reading lies in a wrong place.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

const degree = math.Pi / 180

func main() {
	var out string
	command.Command{
		Name:  "beams",
		About: "Beams reads an angle beam on a weld with gates, and draws its A-scan and a sector image.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&out, "out", "beams", "the `START` of the names START-ascan.png and START-sector.png")
		},
		Run: func(ctx context.Context, w, _ io.Writer) error {
			return run(ctx, w, "testdata/weld32.json", out)
		},
	}.Main()
}

func run(ctx context.Context, w io.Writer, name, out string) error {
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	like := ascan.Beam{Mode: material.T, Transmit: ascan.Focus{Dynamic: true}, Receive: ascan.Focus{Dynamic: true}}
	beams, err := ascan.Sector(like, 35*degree, 72*degree, 1*degree)
	if err != nil {
		return err
	}
	plan, err := ascan.NewPlan(ctx, record.Capture, setup, beams, nil)
	if err != nil {
		return err
	}
	traces, err := plan.Traces(ctx, record.Capture)
	if err != nil {
		return err
	}
	reader := &ascan.Reader{FullHeight: 67e3, Setup: setup}
	if err := read(w, traces[51-35], reader, out+"-ascan.png"); err != nil { // the beam of 51°
		return err
	}
	return drawSector(record, traces, out+"-sector.png")
}

// read prints the readings of two gates on an A-scan, and draws both.
func read(w io.Writer, trace *ascan.Trace, reader *ascan.Reader, name string) error {
	gates := []ascan.Gate{
		{Name: "tip", Start: 20e-3, End: 22e-3, Threshold: 20},
		{Name: "corner", Start: 1e-3, End: 2e-3, Threshold: 30, After: "tip"},
	}
	readings, err := reader.Read(trace, gates)
	if err != nil {
		return err
	}
	for _, r := range readings {
		fmt.Fprintf(w, "%s: height %.0f %%, sound path %.2f mm, depth %.2f mm, x = %.2f mm, skips %d\n",
			r.Gate, r.Height, r.SoundPath*1e3, r.Depth*1e3, r.Point.X*1e3, r.Leg-1)
	}
	fmt.Fprintln(w, "\nThe corner lies beside the axis of this beam, at x = 16 mm and the depth 16 mm.\n"+
		"A reading stands on the axis. So its depth and x hold for the tip only.")
	// The second gate is drawn where it starts: at the first reading.
	gates[1].Start += readings[0].SoundPath
	gates[1].End += readings[0].SoundPath
	return drawTrace(trace, gates, reader.FullHeight, name)
}
