// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream_test

import (
	"context"
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stream"
)

// Image the frames 17 to 19 of a stored scan, which show a notch at the root of a weld.
func ExampleScanSource() {
	ctx := context.Background()
	file, err := npy.OpenScan("../../testdata/scan/weld16.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	defer file.Close()
	setup, err := file.Record().Geometry()
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(30e-3, 35e-3, 13e-3, 16e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, file.Record().Capture, setup, "TT-T", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	images, err := stream.New([]*tfm.Plan{plan}, nil)
	if err != nil {
		log.Fatal(err)
	}
	for result, err := range images.Images(ctx, stream.ScanSource(file, 17, 20)) {
		if err != nil {
			log.Fatal(err)
		}
		_, pixel := result.Images[0].Envelope(nil).Peak()
		fmt.Printf("frame %d at s = %.0f mm: peak at x = %.0f mm\n", result.Index, result.Position*1e3, grid.Point(pixel).X*1e3)
	}
	// Output:
	// frame 17 at s = 38 mm: peak at x = 33 mm
	// frame 18 at s = 40 mm: peak at x = 33 mm
	// frame 19 at s = 43 mm: peak at x = 33 mm
}
