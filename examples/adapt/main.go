// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Adapt images a part with a wavy surface in water: first as if the surface were flat, then through
// the surface that the capture itself shows. It prints how far the echoes of holes lie from their
// faces, and draws both images. The capture is a full-wave simulation of testdata.
//
//	go run ./examples/adapt
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/adapt"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

func main() {
	var out string
	command.Command{
		Name:  "adapt",
		About: "Adapt images a wavy part in water, through a flat surface and through the surface it finds.",
		Flags: func(fs *flag.FlagSet) { fs.StringVar(&out, "out", ".", "the `FOLDER` for the two pictures") },
		Run:   func(ctx context.Context, w, _ io.Writer) error { return run(ctx, w, "testdata/wavy32.json", out) },
	}.Main()
}

func run(ctx context.Context, w io.Writer, name, out string) error {
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		return err
	}
	like, err := record.Geometry()
	if err != nil {
		return err
	}
	water := calibrate.Estimate{Value: record.Coupling.Longitudinal, Uncertainty: 1} // m/s
	surface, err := adapt.FindSurface(record.Capture, water, nil)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%v, %.2f mm below the array, lit from %.1f to %.1f mm, depth ± %.0f µm (95 %%)\n",
		surface.Shape, surface.StandOff.Value*1e3, surface.Lit.Min*1e3, surface.Lit.Max*1e3,
		2e6*surface.Depth(0).Uncertainty)
	flat := *like
	if flat.Entry, err = wedge.HorizontalPlane(surface.Depth(0).Value); err != nil {
		return err
	}
	found, err := surface.Setup(*like)
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-10e-3, 10e-3, -2e-3, 21.5e-3, 1e-4)
	if err != nil {
		return err
	}
	for i, setup := range []*wedge.Setup{&flat, found} {
		plan, err := tfm.PlanView(ctx, record.Capture, setup, "L-L", grid, nil)
		if err != nil {
			return err
		}
		image, err := plan.Image(ctx, record.Capture)
		if err != nil {
			return err
		}
		title := []string{"a flat surface assumed", "through the found surface"}[i]
		report(w, title, record, image.Envelope(nil))
		file := filepath.Join(out, []string{"flat.png", "found.png"}[i])
		if err := draw(file, title, record, surface, image.Envelope(nil)); err != nil {
			return err
		}
	}
	fmt.Fprintln(w, "\nwrote flat.png and found.png to", out)
	return nil
}

// report prints the strongest echo within 2.5 mm of each hole, relative to its near face.
func report(w io.Writer, title string, record *npy.Record, e *tfm.Envelope) {
	fmt.Fprintf(w, "\n%s:\n", title)
	for _, hole := range record.Truth.Holes {
		var amplitude float32
		var from float64
		for i, a := range e.Data {
			p := e.Point(i)
			if d := math.Hypot(p.X-hole.X, p.Z-hole.Z); d < 2.5e-3 && a > amplitude {
				amplitude, from = a, math.Abs(d-hole.Diameter/2)
			}
		}
		fmt.Fprintf(w, "hole at (%4.1f, %4.1f) mm: echo %.1f mm from its face, amplitude %5.0f\n",
			hole.X*1e3, hole.Z*1e3, from*1e3, amplitude)
	}
}
