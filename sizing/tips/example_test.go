// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// A slit in a plate, from the echoes of its tips. Its true length is 6 mm, its true tilt -35°.
func ExampleFind() {
	ctx := context.Background()
	record, err := npy.ReadFile("../../testdata/tips_plate2.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(-2e-3, 6e-3, 8e-3, 18e-3, 1e-4) // m
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, record.Capture, setup, "L-L", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	image, err := plan.Image(ctx, record.Capture)
	if err != nil {
		log.Fatal(err)
	}
	views := []tips.View{{Name: "L-L", Image: image}}
	flaws, err := tips.Find(ctx, record.Capture, setup, views, &tips.Options{
		Dimension: wedge.Section, // the capture is a two-dimensional simulation
	})
	if err != nil {
		log.Fatal(err)
	}
	for _, f := range flaws {
		fmt.Printf("%s, length %s: %.1f ± %.2f mm, tilt %.0f°, upper end %.1f mm above the back wall\n",
			f.Method, f.LengthIs, f.Length*1e3, f.LengthUncertainty*1e3, f.Tilt*180/math.Pi, f.Height*1e3)
	}
	// Output:
	// tips, length measured: 6.1 ± 0.15 mm, tilt -36°, upper end 14.5 mm above the back wall
}

// The depth of a tip between two probes, 100 mm apart, from the time after the lateral wave.
func ExamplePitch() {
	p := tips.Pitch{HalfSpacing: 50e-3, Speed: 5950}
	u := tips.Errors{Time: 10e-9, HalfSpacing: 0.5e-3, Speed: 20}
	const after = 332.8e-9 // s
	fmt.Printf("depth %.1f ± %.1f mm\n", p.DepthAfterLateral(after)*1e3, p.DepthAfterLateralError(after, u)*1e3)
	fmt.Printf("with the absolute time: ± %.1f mm\n", p.DepthError(after+2*p.HalfSpacing/p.Speed, u)*1e3)
	fmt.Printf("hidden by the lateral wave: the first %.1f mm\n", p.NearDeadZone(0.3e-6)*1e3)
	fmt.Printf("hidden by a back wall at 30 mm: the last %.1f mm\n", p.BackDeadZone(30e-3, 0.3e-6)*1e3)
	fmt.Printf("depth of the same time 10 mm beside the middle: %.1f mm\n", p.Locus(10e-3, 10e-3)*1e3)
	// Output:
	// depth 10.0 ± 0.2 mm
	// with the absolute time: ± 2.7 mm
	// hidden by the lateral wave: the first 9.5 mm
	// hidden by a back wall at 30 mm: the last 1.7 mm
	// depth of the same time 10 mm beside the middle: 9.8 mm
}
