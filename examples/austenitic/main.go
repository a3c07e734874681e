// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Austenitic images three side-drilled holes in and behind an austenitic weld: along straight rays, as
// if the weld were parent metal, and along rays that the grains of the weld bend. It prints how far
// each image puts the holes from their faces, and draws both images.
//
//	go run ./examples/austenitic
//
// With -skip it also images the holes from below, by way of the back wall, in the view LL-LL. This
// takes longer. The bent rays then put two undersides in place, but other echoes are nearly as strong:
// such a view confirms a reflector that is known, and would not find it. The underside of the first
// hole does not show.
//
// The capture is a full-wave simulation without rays (testdata/austenitic). The program knows the
// weld exactly. A real weld is known less well, and its images are worse. After a change,
//
//	go run ./examples/austenitic -skip > examples/austenitic/table.txt
//
// renews the kept output: say why a value moved.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	var out string
	var skip bool
	command.Command{
		Name:  "austenitic",
		About: "Austenitic images holes in an austenitic weld along straight rays and along bent rays.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&out, "out", "austenitic.png", "the picture to write, a `FILE.png`")
			fs.BoolVar(&skip, "skip", false, "image the holes also by way of the back wall")
		},
		Run: func(ctx context.Context, w, _ io.Writer) error { return run(ctx, w, out, skip) },
	}.Main()
}

func run(ctx context.Context, w io.Writer, out string, skip bool) error {
	record, err := npy.ReadFile("testdata/austenitic/grain32.json", nil)
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-15e-3, 18e-3, 6e-3, 27e-3, 0.15e-3)
	if err != nil {
		return err
	}
	views := []string{"L-L"}
	if skip {
		views = append(views, "LL-LL")
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(t, "view\trays\thole x/mm\tz/mm\tpeak x/mm\tz/mm\tlevel/dB\tfrom the face/mm\t\n")
	var sections []picture.Picture
	for _, view := range views {
		straight, bent, err := plans(ctx, record, view, grid)
		if err != nil {
			return err
		}
		for i, plan := range []*tfm.Plan{straight, bent} {
			image, err := plan.Image(ctx, record.Capture)
			if err != nil {
				return err
			}
			envelope, name := image.Envelope(nil), view+"\t"+[]string{"straight", "bent"}[i]
			best := printHoles(t, name, envelope, record.Truth.Holes)
			s, err := section(strings.Replace(name, "\t", ", ", 1), envelope, best, record)
			if err != nil {
				return err
			}
			sections = append(sections, &s)
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	return picture.WriteFile(out, &picture.Panels{Columns: 2, Pictures: sections})
}

// printHoles prints the largest amplitude within 3 mm of the centre of each hole, relative to the
// largest of all holes, and how far it lies from the face. It returns the largest amplitude.
func printHoles(w io.Writer, name string, e *tfm.Envelope, holes []npy.Hole) float64 {
	peaks, best := make([]int, len(holes)), 0.0
	for h, hole := range holes {
		for i, v := range e.Data {
			if p := e.Point(i); math.Hypot(p.X-hole.X, p.Z-hole.Z) < 3e-3 && !(v <= e.Data[peaks[h]]) {
				peaks[h] = i
			}
		}
		best = max(best, float64(e.Data[peaks[h]]))
	}
	for h, hole := range holes {
		p := e.Point(peaks[h])
		face := math.Hypot(p.X-hole.X, p.Z-hole.Z) - hole.Diameter/2
		fmt.Fprintf(w, "%s\t%.1f\t%.1f\t%.2f\t%.2f\t%.1f\t%+.2f\t\n", name, hole.X*1e3, hole.Z*1e3, p.X*1e3, p.Z*1e3,
			20*math.Log10(float64(e.Data[peaks[h]])/best), face*1e3)
	}
	return best
}
