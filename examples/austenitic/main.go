// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Austenitic images three side-drilled holes in and behind an austenitic weld. Long grains bend
// the rays, so the straight rays of ordinary steel put the holes in wrong places.
//
//	go run ./examples/austenitic
//
// The numbers: where the strongest echo near each hole lies, and how far from its near face. The
// picture: blue circles are the true holes, and dashed lines are the fusion faces.
//
// The program knows stiffness and grains of the weld exactly. A real weld is known less well, and
// its images are worse: measure the grains on a specimen that was welded by the same procedure,
// and check the image on known reflectors. The capture is a full-wave simulation without rays
// (testdata/austenitic). The weld is invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"os"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge/graded"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "austenitic.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	record, err := npy.ReadFile("testdata/austenitic/grain32.json", nil)
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-12e-3, 15e-3, 6e-3, 27e-3, 0.15e-3)
	if err != nil {
		return err
	}
	// Straight rays: the set-up knows the parent metal and the walls, and no weld.
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	straight, err := tfm.ImageView(ctx, record.Capture, setup, "L-L", grid, nil)
	if err != nil {
		return err
	}
	// Bent rays: the time along a ray is the least of all ways through the grains (Fermat).
	part, err := record.Welded()
	if err != nil {
		return err
	}
	times, err := part.Interpolate(ctx, graded.QuasiLongitudinal, record.Capture.Array.Elements, grid,
		&graded.Options{Tolerance: 5e-9})
	if err != nil {
		return err
	}
	plan, err := tfm.NewPlan(record.Capture, grid, times, times, nil)
	if err != nil {
		return err
	}
	bent, err := plan.Image(ctx, record.Capture)
	if err != nil {
		return err
	}
	sheet := &picture.Panels{Title: "Holes in and behind an austenitic weld, view L-L",
		Caption: "0 dB: the strongest hole. Blue: true holes. Dashed: fusion faces."}
	for i, image := range []*tfm.Image{straight, bent} {
		title := []string{"straight rays", "rays bent by the grains"}[i]
		section, err := compare(w, title, record, image.Envelope(nil))
		if err != nil {
			return err
		}
		sheet.Pictures = append(sheet.Pictures, section)
	}
	return picture.WriteFile(out, sheet)
}

// compare prints how far the echoes of an image lie from the faces of the holes, and draws it.
func compare(w io.Writer, title string, record *npy.Record, e *tfm.Envelope) (*picture.Section, error) {
	fmt.Fprintf(w, "%s:\n", title)
	strongest := float32(0)
	for _, hole := range record.Truth.Holes {
		centre := r3.Vec{X: hole.X, Z: hole.Z}
		peak, at := e.PeakNear(centre, 3e-3)
		strongest = max(strongest, peak)
		p := e.Point(at)
		fmt.Fprintf(w, "  hole at (%4.1f, %4.1f) mm: echo at (%4.1f, %4.1f) mm, %4.1f mm from its face\n",
			hole.X*1e3, hole.Z*1e3, p.X*1e3, p.Z*1e3, (r3.Norm(r3.Sub(p, centre))-hole.Diameter/2)*1e3)
	}
	levels, err := e.Decibels(nil, strongest, -30)
	if err != nil {
		return nil, err
	}
	s := &picture.Section{Title: title, Levels: levels, Reflectors: picture.Reflectors(record.Truth)}
	weld, err := record.Weld.Joint()
	if err != nil {
		return nil, err
	}
	for _, face := range weld.Faces {
		s.Weld = append(s.Weld, []r2.Vec{face.At(0), face.At(1)})
	}
	return s, nil
}
