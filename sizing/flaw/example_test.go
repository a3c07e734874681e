// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw_test

import (
	"context"
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// The list of a plate with a hole and a slit of 6.0 mm that leans by -35 degrees. The capture is a
// simulation in two dimensions.
func ExampleList() {
	ctx := context.Background()
	record, err := npy.ReadFile("../../testdata/tips_plate2.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(-9e-3, 9e-3, 7.5e-3, 25.5e-3, 0.15e-3) // m
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
	views := []flaw.View{{Name: "L-L", Image: image}}
	flaws, err := flaw.List(ctx, record.Capture, setup, views, &flaw.Options{Dimension: wedge.Section, Floor: -25})
	if err != nil {
		log.Fatal(err)
	}
	for _, f := range flaws {
		fmt.Printf("%d: %s, x %.0f mm, z %.0f mm", f.ID, f.Kind, f.X*1e3, f.Z*1e3)
		if f.LengthIs == tips.Measured {
			fmt.Printf(", %.0f mm long, from %s", f.Length*1e3, f.Method)
		}
		if f.Explained != "" {
			fmt.Printf(", explained by the %s", f.Explained)
		}
		fmt.Println()
	}
	// Output:
	// 1: geometry, x -3 mm, z 25 mm, explained by the back wall
	// 2: point, x -7 mm, z 8 mm
	// 3: planar, x 2 mm, z 13 mm, 6 mm long, from tips
}

// A table of three rows. The limits are invented.
func ExampleTable_Judge() {
	table := flaw.Table{Rows: []flaw.Row{
		{Name: "geometry", Kinds: []flaw.Kind{flaw.Geometry}},
		{Name: "record", Height: &flaw.Range{Most: new(2e-3)}},
		{Name: "report", Height: &flaw.Range{Least: new(2e-3)}},
	}}
	if err := table.Validate(); err != nil {
		log.Fatal(err)
	}
	small := flaw.Flaw{Kind: flaw.Planar, Height: 1.2e-3, LengthU: 0.3e-3, LengthIs: tips.Measured, Complete: true}
	fmt.Println(table.Judge(small).Row)
	small.LengthU = 1e-3 // the height may exceed 2 mm
	outcome := table.Judge(small)
	fmt.Println(outcome.Undecided, outcome.Reason)
	// Output:
	// record
	// true row "record": the height is 0.0002 to 0.0022 m, and the limit is 0.002 m
}

// Three entries, of which two interact: their gap along x is 1.5 mm. The rule is invented.
func ExampleInteract() {
	flaws := []flaw.Flaw{
		{ID: 1, ExtentX: [2]float64{0, 3e-3}, ExtentZ: [2]float64{8e-3, 9e-3}},
		{ID: 2, ExtentX: [2]float64{9e-3, 9.5e-3}, ExtentZ: [2]float64{8e-3, 9e-3}},
		{ID: 3, ExtentX: [2]float64{4.5e-3, 6e-3}, ExtentZ: [2]float64{8.5e-3, 10e-3}},
	}
	groups, err := flaw.Interact(flaws, flaw.Rule{X: flaw.Gap{Distance: 2e-3}, Z: flaw.Gap{Distance: 1e-3}})
	if err != nil {
		log.Fatal(err)
	}
	for _, g := range groups {
		fmt.Printf("%v: x %.1f to %.1f mm, z %.1f to %.1f mm\n", g.IDs,
			g.ExtentX[0]*1e3, g.ExtentX[1]*1e3, g.ExtentZ[0]*1e3, g.ExtentZ[1]*1e3)
	}
	// Output:
	// [1 3]: x 0.0 to 6.0 mm, z 8.0 to 10.0 mm
	// [2]: x 9.0 to 9.5 mm, z 8.0 to 9.0 mm
}
