// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Coverage predicts where a set-up would show smooth planar flaws in a weld, and where it is blind.
// It draws the predicted levels of three flaws, each in one view, and prints which share of the
// weld each view covers.
//
//	go run ./examples/coverage
//
// The capture weld32 of testdata gives the array and the wedge. The weld is invented: a single V
// with a bevel angle of 30°. The flaws are 3 mm long.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/tfm/sensitivity"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

func main() {
	var out string
	command.Command{
		Name:  "coverage",
		About: "Coverage draws where three views would show planar flaws, and prints their coverage.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&out, "out", "coverage.png", "the picture to write, a `FILE.png`")
		},
		Run: func(ctx context.Context, w, _ io.Writer) error {
			return run(ctx, w, "testdata/weld32.json", out)
		},
	}.Main()
}

// level counts as shown, in dB relative to the best place of all maps. The applicable code decides.
const level = -12

func run(ctx context.Context, w io.Writer, name, out string) error {
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	const bevel = 30 * math.Pi / 180
	edge := joint.Edge{Upper: joint.Bevel{Angle: bevel}}
	weld, err := joint.Butt{Thickness: record.Thickness, Gap: 1e-3, RootFace: 1e-3, Left: edge, Right: edge}.Joint()
	if err != nil {
		return err
	}
	outlines, err := weld.Shifted(r2.Vec{X: 16e-3}).Outlines(20e-6)
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(2e-3, 34e-3, 0.1e-3, record.Thickness-0.1e-3, 1e-4)
	if err != nil {
		return err
	}
	var maps []*sensitivity.Map
	best := 0.0
	for _, seen := range []struct {
		view string
		tilt float64
	}{{"T-T", bevel}, {"TT-T", 0}, {"TT-TT", -bevel}} {
		flaw := sensitivity.Planar{Length: 3e-3, Tilt: seen.tilt}
		m, err := sensitivity.New(ctx, record.Capture, setup, seen.view, grid, flaw, nil)
		if err != nil {
			return err
		}
		peak, _ := m.Peak()
		best, maps = max(best, float64(peak)), append(maps, m)
	}
	var sections []picture.Picture
	for _, m := range maps {
		share, err := sensitivity.Coverage(outlines.Metal, best, level, m)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "%-5s shows a %v in %3.0f %% of the weld\n", m.View, m.Reflector, 100*share)
		levels, err := m.Decibels(nil, float32(best), -40)
		if err != nil {
			return err
		}
		sections = append(sections, &picture.Section{
			Title:   fmt.Sprintf("view %s: %.0f %% of the weld at %d dB or above", m.View, 100*share, level),
			Caption: fmt.Sprintf("predicted level of a %v, relative to the best place of all maps", m.Reflector),
			Levels:  levels, Part: outlines.Parts, Weld: outlines.Metal,
		})
	}
	fmt.Fprintln(w, "\nFor the left bevel the array must stand further away.\n\nwrote", out)
	return picture.WriteFile(out, &picture.Panels{Columns: 1, Pictures: sections})
}
