// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm_test

import (
	"context"
	"fmt"
	"log"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// plateWithPoint returns a steel plate under an array in contact, and a capture of the point
// reflector at x = 1 mm, z = 12 mm. The scenario is invented.
func plateWithPoint() (*wedge.Setup, *fmc.Capture) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, steel, 30e-3)
	if err != nil {
		log.Fatal(err)
	}
	array, err := fmc.LinearArray(16, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	return plate, points(array, plate, []r3.Vec{{X: 1e-3, Z: 12e-3}})
}

// printPeak prints where the highest peak of an image lies.
func printPeak(image *tfm.Image) {
	_, index := image.Envelope(nil).Peak()
	peak := image.Point(index)
	fmt.Printf("peak at x = %.1f mm, z = %.1f mm\n", peak.X*1e3, peak.Z*1e3)
}

// One frame is imaged in one call.
func ExampleImageView() {
	plate, capture := plateWithPoint()
	grid, err := tfm.NewSection(-6e-3, 6e-3, 8e-3, 16e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	image, err := tfm.ImageView(context.Background(), capture, plate, "L-L", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	printPeak(image)
	// Output:
	// peak at x = 1.0 mm, z = 12.0 mm
}

// A plan of a view is made once, and images frame after frame.
func ExamplePlanView() {
	ctx := context.Background()
	plate, capture := plateWithPoint()
	grid, err := tfm.NewSection(-6e-3, 6e-3, 8e-3, 16e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, capture, plate, "L-L", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	image, err := plan.Image(ctx, capture)
	if err != nil {
		log.Fatal(err)
	}
	printPeak(image)
	// Output:
	// peak at x = 1.0 mm, z = 12.0 mm
}

// While a set-up changes, interpolated tables make the next plan sooner. Their
// errors are at most 0.5 ns. The memory of the last table serves the next one.
func ExampleNewPlan() {
	ctx := context.Background()
	plate, capture := plateWithPoint()
	grid, err := tfm.NewSection(-6e-3, 6e-3, 8e-3, 16e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	var table *wedge.Times
	for _, speed := range []float64{5900, 5920} {
		plate.Part.Longitudinal = speed
		path, err := plate.Path([]material.Mode{material.L})
		if err != nil {
			log.Fatal(err)
		}
		table, err = path.Interpolate(ctx, capture.Array.Elements, grid, &wedge.InterpolateOptions{Reuse: table})
		if err != nil {
			log.Fatal(err)
		}
		plan, err := tfm.NewPlan(capture, grid, table, table, nil)
		if err != nil {
			log.Fatal(err)
		}
		image, err := plan.Image(ctx, capture)
		if err != nil {
			log.Fatal(err)
		}
		printPeak(image)
	}
	fmt.Printf("rays for fewer than one pair in ten: %v\n", 10*table.Rays < len(table.Seconds))
	// Output:
	// peak at x = 1.0 mm, z = 12.0 mm
	// peak at x = 1.0 mm, z = 12.0 mm
	// rays for fewer than one pair in ten: true
}

// A volume whose tables do not fit into memory is imaged band after band. Bands hold no more than
// the limit.
func ExampleBands() {
	ctx := context.Background()
	plate, capture := plateWithPoint()
	step := r3.Vec{X: 0.2e-3, Y: 0.5e-3, Z: 0.2e-3}
	grid, err := tfm.NewVolume(r3.Vec{X: -6e-3, Y: -1e-3, Z: 8e-3}, r3.Vec{X: 6e-3, Y: 1e-3, Z: 16e-3}, step)
	if err != nil {
		log.Fatal(err)
	}
	timer, err := tfm.NewTimer(capture, plate, "L-L", nil)
	if err != nil {
		log.Fatal(err)
	}
	const limit = 8 << 20 // bytes
	bands, err := tfm.NewBands(capture, grid, timer, limit, &tfm.Options{Workers: 1})
	if err != nil {
		log.Fatal(err)
	}
	images, err := bands.Images(ctx, capture)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d slices of %d × %d pixels\n", grid.Slices, grid.Cols, grid.Rows)
	middle := images[0].Envelope(nil).Section(2)
	_, index := middle.Peak()
	peak := middle.Point(index)
	fmt.Printf("peak at x = %.1f mm, y = %.1f mm, z = %.1f mm\n", peak.X*1e3, peak.Y*1e3, peak.Z*1e3)
	// Output:
	// 5 slices of 61 × 41 pixels
	// peak at x = 1.0 mm, y = 0.0 mm, z = 12.0 mm
}
