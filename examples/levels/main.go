// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Levels predicts how strongly a reference reflector shows at each place of a view. Levels of
// equal reflectors differ: beams spread, and elements and boundaries favour some directions.
//
//	go run ./examples/levels
//
// The numbers compare the levels of four equal holes with the map of a hole. The map of a smooth
// planar flaw tells where a set-up is blind: less than 12 dB below the best place counts as shown.
//
// A map knows no shadows and no rough flaws, and a coverage is no probability of detection. The
// procedure prescribes reflectors and levels. The captures are full-wave simulations of testdata.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"os"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/tfm/sensitivity"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "levels.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

// panel is an image or a map, the amplitude of 0 dB, and what is drawn over it.
type panel struct {
	*tfm.Envelope
	reference float32
	section   *picture.Section
}

func run(w io.Writer, out string) error {
	ctx, flat := context.Background(), &sensitivity.Options{Dimension: wedge.Section, Spacing: 1e-3}
	block, err := npy.ReadFile("testdata/block16.json", nil)
	if err != nil {
		return err
	}
	setup, err := block.Geometry()
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-20e-3, 20e-3, 7e-3, 34e-3, 0.1e-3)
	if err != nil {
		return err
	}
	image, err := tfm.ImageView(ctx, block.Capture, setup, "L-L", grid, nil)
	if err != nil {
		return err
	}
	m, err := sensitivity.New(ctx, block.Capture, setup, "L-L", grid, sensitivity.Hole{Diameter: 1.5e-3}, flat)
	if err != nil {
		return err
	}
	envelope := image.Envelope(nil)
	strongest, best := envelope.Peak()
	for _, h := range block.Truth.Holes {
		peak, at := envelope.PeakNear(r3.Vec{X: h.X, Z: h.Z - h.Diameter/2}, 1.5e-3)
		a := sizing.LevelDB(float64(peak), float64(strongest))
		b := sizing.LevelDB(float64(m.Data[at]), float64(m.Data[best]))
		fmt.Fprintf(w, "hole at (%4.1f, %4.1f) mm: %4.1f dB, predicted %4.1f dB, difference %4.1f dB\n", h.X*1e3, h.Z*1e3, a, b, a-b)
	}
	known := picture.Reflectors(block.Truth)
	panels := []panel{{envelope, strongest, &picture.Section{Title: "four equal holes", Reflectors: known}},
		{&m.Envelope, m.Data[best], &picture.Section{Title: "map of a hole", Reflectors: known}}}
	record, err := npy.ReadFile("testdata/weld32.json", nil)
	if err != nil {
		return err
	}
	if setup, err = record.Geometry(); err != nil {
		return err
	}
	vee := []wedge.Outline{{{X: 6.8e-3}, {X: 15.5e-3, Y: 15e-3}, {X: 15.5e-3, Y: 16e-3}, {X: 16.5e-3, Y: 16e-3},
		{X: 16.5e-3, Y: 15e-3}, {X: 25.2e-3}, {X: 6.8e-3}}} // the metal of a single V with bevels of 30°
	if grid, err = tfm.NewSection(4e-3, 30e-3, 0.1e-3, 15.9e-3, 1e-4); err != nil {
		return err
	}
	reference := float32(0)
	for _, tilt := range []float64{30, 0} { // as the right bevel, and upright
		flaw := sensitivity.Planar{Length: 3e-3, Tilt: tilt * math.Pi / 180}
		if m, err = sensitivity.New(ctx, record.Capture, setup, "T-T", grid, flaw, flat); err != nil {
			return err
		}
		peak, _ := m.Peak()
		reference = max(reference, peak)
		share, err := sensitivity.Coverage(vee, float64(reference), -12, m)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "view T-T shows a %v in %2.0f %% of the weld\n", flaw, 100*share)
		panels = append(panels, panel{&m.Envelope, reference, &picture.Section{Title: fmt.Sprint("map of a ", flaw), Weld: vee}})
	}
	sheet := &picture.Panels{Columns: 2}
	for _, p := range panels {
		if p.section.Levels, err = p.Decibels(nil, p.reference, -30); err != nil {
			return err
		}
		sheet.Pictures = append(sheet.Pictures, p.section)
	}
	return picture.WriteFile(out, sheet)
}
