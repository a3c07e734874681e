// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Scan finds where flaws along a weld begin and end. Each frame has a position s along the weld.
//
//	go run ./examples/scan
//
// A flaw ends where its level has fallen by 6 dB: half of the beam then misses it. The numbers are
// these ends, and limits of the length (95 %), beside the truth. Flaw 2 has no upper limit,
// because traces end before all its echoes arrive. Four pores at s = 66 to 80 mm are over 30 dB
// lower, and do not show. The procedure says how lengths are measured. The scan is invented.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"os"
	"path/filepath"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/volume"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/tfm/stack"
	"github.com/isochron-imaging/isochron/tfm/stream"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "scan.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	file, err := npy.OpenScan("testdata/scan/weld16.json", nil)
	if err != nil {
		return err
	}
	defer file.Close()
	folder, err := os.MkdirTemp("", "scan")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	setup, err := file.Record().Geometry()
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(20e-3, 37e-3, 0.2e-3, 16.2e-3, 0.2e-3)
	if err != nil {
		return err
	}
	plan, err := tfm.PlanView(ctx, file.Record().Capture, setup, "TT-TT", grid, nil) // once for all frames
	if err != nil {
		return err
	}
	views := []stack.View{{Name: "TT-TT", Reference: 16.7e3}} // 0 dB: about the highest echo
	layout := &stack.Layout{Frames: len(file.Frames()), Pitch: 2.25e-3, Views: views}
	name := filepath.Join(folder, "stack.json")
	if _, err := stack.Image(ctx, name, []*tfm.Plan{plan}, layout, stream.ScanSource(file, 0, 0), nil); err != nil {
		return err
	}
	images, err := stack.Open(name)
	if err != nil {
		return err
	}
	defer images.Close()
	line, err := volume.NewLine(images, 0, nil)
	if err != nil {
		return err
	}
	found, err := volume.Find(ctx, line, &volume.Options{Floor: -20, Beam: func(at r3.Vec) (sizing.Beam, error) {
		return volume.ElementBeam(10e-3, 4e6, 2330*5e-3+3230*math.Hypot(at.X, 32e-3-at.Z)) // wedge, skip
	}})
	if err != nil {
		return err
	}
	for _, f := range found {
		most := fmt.Sprintf("%.1f mm at most", f.Most*1e3)
		if math.IsInf(f.Most, 1) {
			most = "no upper limit"
		}
		fmt.Fprintf(w, "flaw %d at x = %.1f mm, z = %4.1f mm: s = %4.1f to %4.1f mm, length %.1f mm at least, %s (%v)\n", f.ID,
			f.X*1e3, f.Z*1e3, f.Drop.From*1e3, f.Drop.To*1e3, f.Least*1e3, most, f.LengthIs)
	}
	p, err := stack.Project(ctx, []stack.Source{{Stack: images, Pose: stack.Along(scan.Line{})}}, nil)
	truth, other := synth.ReadTruth("testdata/scan/weld16.truth.json")
	if err := errors.Join(err, other); err != nil {
		return err
	}
	above, err := picture.LevelMap(&p.Plan, -30)
	side, other := picture.LevelMap(&p.Side, -30)
	if err := errors.Join(err, other); err != nil {
		return err
	}
	above.Title, side.Title = "From above: the highest level of all depths", "From the side: the highest level of all x"
	for _, f := range truth.Planar {
		a, b := f.Stations[0], f.Stations[len(f.Stations)-1]
		fmt.Fprintf(w, "true flaw at x = %.1f to %.1f mm: s = %4.1f to %4.1f mm, length %4.1f mm\n", a.X0*1e3, a.X1*1e3, a.S*1e3, b.S*1e3, (b.S-a.S)*1e3)
		above.Reflectors = append(above.Reflectors, []r2.Vec{{X: a.S, Y: a.X0}, {X: b.S, Y: b.X0}, {X: b.S, Y: b.X1}, {X: a.S, Y: a.X1}, {X: a.S, Y: a.X0}})
		side.Reflectors = append(side.Reflectors, []r2.Vec{{X: a.S, Y: a.Z0}, {X: b.S, Y: b.Z0}, {X: b.S, Y: b.Z1}, {X: a.S, Y: a.Z1}, {X: a.S, Y: a.Z0}})
	}
	return picture.WriteFile(out, &picture.Panels{Columns: 1, Pictures: []picture.Picture{above, side}})
}
