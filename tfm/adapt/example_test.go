// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt_test

import (
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm/adapt"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// A pipe under water: the capture itself tells its radius and its distance.
func ExampleFindSurface() {
	record, err := npy.ReadFile("../../testdata/pipe32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	water := calibrate.Estimate{Value: 1482, Uncertainty: 1} // m/s
	surface, err := adapt.FindSurface(record.Capture, water, nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("shape:", surface.Shape)
	fmt.Printf("radius: %.1f mm\n", surface.Radius.Value*1e3) // drawn with 57.15 mm
	fmt.Printf("stand-off: %.2f mm\n", surface.StandOff.Value*1e3)
	fmt.Printf("lit from %.0f to %.0f mm\n", surface.Lit.Min*1e3, surface.Lit.Max*1e3)
	// Output:
	// shape: circle
	// radius: 57.2 mm
	// stand-off: 10.00 mm
	// lit from -8 to 7 mm
}
