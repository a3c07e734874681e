// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Pipe images two parts in water: a pipe across its axis, and a part with a wavy surface. Every
// ray bends at the surface, so the image needs its shape. It is given, or found in the echoes.
//
//	go run ./examples/pipe
//
// The numbers: how far the echoes of known holes lie from the near faces of the holes, and the
// amplitude of the strongest hole, relative to the image with the surface given.
//
// The picture: blue circles are the true holes, and grey lines are the surfaces that the image
// assumes. Spots below the back wall are echoes on other paths, and no reflectors.
//
// A surface with a step or an edge would be smoothed away. A surface that is wrong by a tenth of a
// wavelength in water moves indications: check on a reference reflector. The captures are
// full-wave simulations of testdata, computed without rays. The parts are invented.
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
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/adapt"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "pipe.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	sheet := &picture.Panels{Columns: 3,
		Title:   "Two parts in water: the image needs the shape of the surface",
		Caption: "View L-L. Blue: true holes. Grey: surfaces of the image. 0 dB: the strongest hole."}
	for _, name := range []string{"pipe32", "wavy32"} {
		record, err := npy.ReadFile("testdata/"+name+".json", nil)
		if err != nil {
			return err
		}
		if err := compare(w, sheet, record); err != nil {
			return err
		}
	}
	return picture.WriteFile(out, sheet)
}

// compare images a part with three surfaces, prints the echoes of its holes, and draws the images.
func compare(w io.Writer, sheet *picture.Panels, record *npy.Record) error {
	given, err := record.Geometry()
	if err != nil {
		return err
	}
	water := calibrate.Estimate{Value: record.Coupling.Longitudinal, Uncertainty: 1} // m/s
	surface, err := adapt.FindSurface(record.Capture, water, nil)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%s:\n  found: a %v, %.2f mm below the array, depth ± %.0f µm (95 %%)\n", record.Title,
		surface.Shape, surface.StandOff.Value*1e3, 2e6*surface.Depth(0).Uncertainty)
	if r := surface.Radius; surface.Shape == adapt.Circle {
		fmt.Fprintf(w, "  radius %.1f ± %.1f mm (95 %%), true %.2f mm\n", r.Value*1e3, 2e3*r.Uncertainty, record.Surface.Radius*1e3)
	}
	found, err := surface.Setup(*given)
	if err != nil {
		return err
	}
	flat := *given
	if flat.Entry, err = wedge.HorizontalPlane(surface.Depth(0).Value); err != nil {
		return err
	}
	grid, err := tfm.NewSection(-11e-3, 11e-3, -2e-3, 22e-3, 0.15e-3)
	if err != nil {
		return err
	}
	var reference float32 // the strongest hole so far
	titles := []string{"surface given", "surface found", "taken for flat"}
	for i, setup := range []*wedge.Setup{given, found, &flat} {
		image, err := tfm.ImageView(context.Background(), record.Capture, setup, "L-L", grid, nil)
		if err != nil {
			return err
		}
		envelope, strongest := image.Envelope(nil), float32(0)
		fmt.Fprintf(w, "  %-15s echoes", titles[i]+":")
		for _, hole := range record.Truth.Holes {
			centre := r3.Vec{X: hole.X, Z: hole.Z}
			peak, at := envelope.PeakNear(centre, 2.5e-3)
			strongest = max(strongest, peak)
			fmt.Fprintf(w, " %3.1f", math.Abs(r3.Norm(r3.Sub(grid.Point(at), centre))-hole.Diameter/2)*1e3)
		}
		reference = max(reference, strongest)
		fmt.Fprintf(w, " mm from the faces, amplitude of the strongest %3.0f %%\n", 100*strongest/reference)
		levels, err := envelope.Decibels(nil, reference, -30)
		if err != nil {
			return err
		}
		sheet.Pictures = append(sheet.Pictures, &picture.Section{Title: titles[i], Levels: levels,
			Part: picture.Surfaces(setup, grid), Reflectors: picture.Reflectors(record.Truth)})
	}
	return nil
}
