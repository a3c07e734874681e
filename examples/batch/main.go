// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Batch images one part of a scan, or merges parts, so that several processes or machines can
// share a scan. BATCH.md in the folder of package tfm/stack tells how.
//
//	go run ./examples/batch -scan weld.json -part 1/2 -stack parts/1.json
//	go run ./examples/batch -scan weld.json -part 2/2 -stack parts/2.json
//	go run ./examples/batch -merge 'parts/*.json' -stack whole.json
//
// A part that was begun is continued. The program examples/scan goes on with a stack: it finds
// flaws, and draws projections.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"os/signal"
	"path/filepath"
	"strings"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stack"
	"github.com/isochron-imaging/isochron/tfm/stream"
)

// job holds the values of the flags.
type job struct {
	scan, views, part, merge, stack string
	from, to, top, bottom, step     float64 // of the images in m: along x, in depth, pixels
}

func main() {
	log.SetFlags(0)
	var j job
	flag.StringVar(&j.scan, "scan", "testdata/scan/weld16.json", "the scan to image, a `FILE.json`")
	flag.StringVar(&j.views, "view", "TT-TT,TT-T", "the `VIEWS`, separated by commas")
	flag.StringVar(&j.part, "part", "", "image part K of N: `K/N`")
	flag.StringVar(&j.merge, "merge", "", "merge parts: a `PATTERN` of their names, such as 'parts/*.json'")
	flag.StringVar(&j.stack, "stack", "", "the stack to write, a `FILE.json`")
	flag.Float64Var(&j.from, "from", 24e-3, "least x of the images, in `metres`")
	flag.Float64Var(&j.to, "to", 44e-3, "largest x of the images, in `metres`")
	flag.Float64Var(&j.top, "top", 0.2e-3, "least depth of the images, in `metres`")
	flag.Float64Var(&j.bottom, "bottom", 16.2e-3, "largest depth of the images, in `metres`")
	flag.Float64Var(&j.step, "step", 0.1e-3, "of the pixels, in `metres`")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Stdout, j); err != nil {
		stop()
		log.Fatal(err)
	}
}

func run(ctx context.Context, w io.Writer, j job) error {
	switch {
	case j.stack == "" || (j.part == "") == (j.merge == ""):
		return errors.New("want -stack FILE.json, and either -part or -merge")
	case j.part != "":
		return j.image(ctx, w)
	}
	return j.join(w)
}

// image images one part of a scan.
func (j job) image(ctx context.Context, w io.Writer) error {
	var part, parts int
	if n, err := fmt.Sscanf(j.part+"\n", "%d/%d\n", &part, &parts); n != 2 || err != nil || part < 1 || part > parts {
		return fmt.Errorf("-part %s: want K/N with K from 1 to N, such as 2/4", j.part)
	}
	file, err := npy.OpenScan(j.scan, nil)
	if err != nil {
		return err
	}
	defer file.Close()
	frames := file.Frames()
	first, last := frames[0], frames[len(frames)-1]
	total := last.Index + 1
	from, to := (part-1)*total/parts, part*total/parts
	if from == to {
		return fmt.Errorf("-part %s of %d frames: want no more parts than frames", j.part, total)
	}
	// Values are stored in dB relative to one unit of the samples, so that they need no
	// calibration.
	layout := &stack.Layout{Frames: total, Values: stack.Int16, Pitch: (last.Position - first.Position) / float64(last.Index-first.Index)}
	plans, err := j.plans(ctx, file.Record(), layout)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(j.stack), 0o777); err != nil {
		return err
	}
	report, err := stack.Image(ctx, j.stack, plans, layout, stream.ScanSource(file, from, to), &stack.Options{From: from, To: to})
	if err != nil {
		return err
	}
	if report.Refused > 0 {
		return fmt.Errorf("%d frames were refused: read why in %s", report.Refused, j.stack)
	}
	fmt.Fprintf(w, "frames %d to %d in %s\n", from, to-1, j.stack)
	return nil
}

// plans returns the plans of the views, and adds the views to a layout.
func (j job) plans(ctx context.Context, record *npy.Record, layout *stack.Layout) (plans []*tfm.Plan, err error) {
	setup, err := record.Geometry()
	if err != nil {
		return nil, err
	}
	grid, err := tfm.NewSection(j.from, j.to, j.top, j.bottom, j.step)
	if err != nil {
		return nil, err
	}
	for view := range strings.SplitSeq(j.views, ",") {
		plan, err := tfm.PlanView(ctx, record.Capture, setup, view, grid, nil)
		if err != nil {
			return nil, err
		}
		plans, layout.Views = append(plans, plan), append(layout.Views, stack.View{Name: view, Reference: 1})
	}
	return plans, nil
}

// join merges the stacks of parts.
func (j job) join(w io.Writer) error {
	parts, err := filepath.Glob(j.merge)
	if err != nil || len(parts) == 0 {
		return fmt.Errorf("-merge %s: no such file", j.merge)
	}
	if err := os.MkdirAll(filepath.Dir(j.stack), 0o777); err != nil {
		return err
	}
	holes, err := stack.Merge(j.stack, parts...)
	if err != nil {
		return err
	}
	if len(holes) > 0 {
		return fmt.Errorf("%d frames are in no part, the first is frame %d", len(holes), holes[0])
	}
	fmt.Fprintf(w, "%d parts merged in %s\n", len(parts), j.stack)
	return nil
}
