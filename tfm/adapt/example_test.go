// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt_test

import (
	"context"
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/adapt"
	"github.com/isochron-imaging/isochron/wedge"
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
	// radius: 57.1 mm
	// stand-off: 10.00 mm
	// lit from -8 to 8 mm
}

// Two holes of 1.5 mm in aluminium of an unknown speed: the image is sharpest near the true 6320
// m/s.
func ExampleFocus() {
	record, err := npy.ReadFile("../../testdata/block16.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		log.Fatal(err)
	}
	var regions []tfm.Grid
	for _, hole := range record.Truth.Holes[:2] {
		g, err := tfm.NewSection(hole.X-2e-3, hole.X+2e-3, 0.8*hole.Z, 1.2*hole.Z, 0.2e-3)
		if err != nil {
			log.Fatal(err)
		}
		regions = append(regions, g)
	}
	trial := adapt.PartSpeed(setup, record.Capture.Array.Elements, material.L)
	found, err := adapt.Focus(context.Background(), record.Capture, "L-L", regions, trial,
		wedge.Interval{Min: 5500, Max: 7200}, &adapt.FocusOptions{Radius: 0.75e-3})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(found.Verdict)
	fmt.Println("6320 m/s lies within two standard uncertainties:",
		found.Value.Value-2*found.Value.Uncertainty < 6320 && 6320 < found.Value.Value+2*found.Value.Uncertainty)
	// Output:
	// determined
	// 6320 m/s lies within two standard uncertainties: true
}

// The wall of a pipe in water, from the echoes of its two surfaces.
func ExampleFindWall() {
	record, err := npy.ReadFile("../../testdata/pipe32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	wall, err := adapt.FindWall(record.Capture, 4e-6, 5.5e-6, nil) // s, 12 to 16 mm of steel
	if err != nil {
		log.Fatal(err)
	}
	thickness := wall.Thickness(calibrate.Estimate{Value: 5920, Uncertainty: 20})
	fmt.Printf("%.1f ± %.1f mm\n", thickness.Value*1e3, 2*thickness.Uncertainty*1e3) // drawn with 14 mm
	speed := wall.Speed(calibrate.Estimate{Value: 14e-3, Uncertainty: 0.02e-3})
	fmt.Printf("%.0f ± %.0f m/s\n", speed.Value, 2*speed.Uncertainty)
	// Output:
	// 14.0 ± 0.1 mm
	// 5916 ± 27 m/s
}
