// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Beams forms the beams of a sector from the matrix, and reads A-scans with gates, as of a probe
// with one beam. The sound path and the angle of the beam tell where a reflector lies.
//
//	go run ./examples/beams
//
// A reading puts every echo on the axis of its beam. The axis of 51° meets the tip of a root
// notch, so the place of the tip is right. It passes beside the corner of the notch, so the place
// of the corner is 2 mm wrong. The axis of 47° meets the corner. The picture has both axes.
//
// The height of an echo is not the size of a flaw. The capture is a simulation (testdata/weld32).
package main

import (
	"context"
	"flag"
	"fmt"
	"image/color"
	"io"
	"log"
	"math"
	"os"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "beams.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

const degree = math.Pi / 180

func run(w io.Writer, out string) error {
	record, err := npy.ReadFile("testdata/weld32.json", nil)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	// Transverse waves, focused at each depth, transmitting and receiving.
	like := ascan.Beam{Mode: material.T, Transmit: ascan.Focus{Dynamic: true}, Receive: ascan.Focus{Dynamic: true}}
	beams, err := ascan.Sector(like, 35*degree, 72*degree, degree)
	if err != nil {
		return err
	}
	plan, err := ascan.NewPlan(context.Background(), record.Capture, setup, beams, nil)
	if err != nil {
		return err
	}
	traces, err := plan.Traces(context.Background(), record.Capture)
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-2e-3, 26e-3, 0, 18e-3, 1e-4)
	if err != nil {
		return err
	}
	image, err := ascan.Image(grid, traces, 1) // the leg before the first skip
	if err != nil {
		return err
	}
	levels, err := image.Decibels(nil, 0, -30)
	if err != nil {
		return err
	}
	sector := &picture.Section{Title: "beams of 35° to 72°, T waves; 0 dB: the highest echo", Levels: levels,
		Part: picture.Surfaces(setup, grid), Reflectors: picture.Reflectors(record.Truth)}
	chart := &picture.Chart{Title: "A-scan of the beam of 51°", Lines: []picture.Line{{}},
		X: picture.Axis{Label: "sound path / mm", From: 15, To: 30}, Y: picture.Axis{Label: "height / %", From: 0, To: 100}}
	reader := &ascan.Reader{FullHeight: 67e3, Setup: setup} // the amplitude of 100 %, invented
	for _, r := range []struct {
		beam   int
		gate   ascan.Gate
		at     r2.Vec      // true place
		colour color.Color // of the gate
	}{
		{51, ascan.Gate{Name: "tip", Start: 20e-3, End: 21.8e-3, Threshold: 20}, r2.Vec{X: 16e-3, Y: 13.5e-3}, color.RGBA{G: 90, B: 200, A: 255}},
		{51, ascan.Gate{Name: "corner", Start: 22e-3, End: 24e-3, Threshold: 30}, r2.Vec{X: 16e-3, Y: 16e-3}, color.RGBA{R: 190, G: 90, A: 255}},
		{47, ascan.Gate{Name: "corner", Start: 22e-3, End: 24e-3, Threshold: 30}, r2.Vec{X: 16e-3, Y: 16e-3}, nil},
	} {
		trace := traces[r.beam-35]
		read, err := reader.Read(trace, []ascan.Gate{r.gate})
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "beam of %d°, %-6s sound path %.1f mm, so x = %.1f mm, depth %.1f mm; true %.1f mm, %.1f mm; height %3.0f %%\n",
			r.beam, r.gate.Name, read[0].SoundPath*1e3, read[0].Point.X*1e3, read[0].Depth*1e3, r.at.X*1e3, r.at.Y*1e3, read[0].Height)
		axis := trace.Line.Legs[0]
		sector.Lines = append(sector.Lines, picture.Line{Name: "axis of 47° and 51°",
			Points: []r2.Vec{{X: axis.From.X, Y: axis.From.Z}, {X: axis.To.X, Y: axis.To.Z}}})
		sector.Marks = append(sector.Marks, picture.Mark{
			At: r2.Vec{X: read[0].Point.X, Y: read[0].Point.Z}, Label: fmt.Sprintf("%d° %s", r.beam, r.gate.Name)})
		if r.beam == 51 {
			chart.Lines = append(chart.Lines, picture.Line{
				Points: []r2.Vec{{X: r.gate.Start * 1e3, Y: r.gate.Threshold}, {X: r.gate.End * 1e3, Y: r.gate.Threshold}},
				Width:  2.5, Name: "gate " + r.gate.Name, Colour: r.colour})
		}
	}
	for k, v := range traces[51-35].Envelope(nil) {
		path := traces[51-35].SoundPath(traces[51-35].Time(float64(k)))
		chart.Lines[0].Points = append(chart.Lines[0].Points, r2.Vec{X: path * 1e3, Y: 100 * v / reader.FullHeight})
	}
	return picture.WriteFile(out, &picture.Panels{Pictures: []picture.Picture{sector, chart}})
}
