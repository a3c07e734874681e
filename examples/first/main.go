// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// First is the shortest program from a capture to measured flaws: the lines of the README, with
// each error checked.
//
//	go run ./examples/first
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"os"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

func main() {
	flag.Usage = func() {
		fmt.Fprintln(flag.CommandLine.Output(), "First images the weld of testdata and prints its indications. "+
			"It has no flags. Run it from the top folder.")
	}
	flag.Parse()
	if flag.NArg() > 0 {
		log.Fatalf("argument %q: want none", flag.Arg(0))
	}
	if err := run(context.Background(), "testdata/weld32.json", os.Stdout); err != nil {
		folder, _ := os.Getwd()
		log.Fatalf("%v (from the folder %s)", err, folder)
	}
}

func run(ctx context.Context, name string, w io.Writer) error {
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(8e-3, 32e-3, 2e-3, 17e-3, 1e-4)
	if err != nil {
		return err
	}
	plan, err := tfm.PlanView(ctx, record.Capture, setup, "TT-T", grid, nil)
	if err != nil {
		return err
	}
	image, err := plan.Image(ctx, record.Capture)
	if err != nil {
		return err
	}
	found, err := sizing.Find(image.Envelope(nil), nil)
	if err != nil {
		return err
	}
	for _, f := range found {
		fmt.Fprintf(w, "%d: x = %.1f mm, z = %.1f mm, %.1f dB, from %.1f to %.1f mm deep\n",
			f.ID, f.X*1e3, f.Z*1e3, f.LevelDB, f.ExtentZ[0]*1e3, f.ExtentZ[1]*1e3)
	}
	return nil
}
