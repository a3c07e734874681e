// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan_test

import (
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/scan"
)

// A weld is scanned from both sides. The second array fires back, and its scanner runs back.
func ExampleThrough() {
	grid := scan.Grid{Along: scan.Axis{Step: 1e-3, Steps: 301}}
	pieces := []scan.Piece{
		{Name: "side A", Path: scan.Line{X: -25e-3}, Grid: grid},
		{Name: "side B", Path: scan.Line{X: 25e-3, Y: 0.3, Heading: math.Pi, Skew: math.Pi}, Grid: grid},
	}
	root := r3.Vec{X: 2e-3, Y: 0.12, Z: 18e-3} // m, in the part
	places, err := scan.Through(pieces, root)
	if err != nil {
		log.Fatal(err)
	}
	for _, p := range places {
		fmt.Printf("%s: frame at %.0f mm, x = %.0f mm, z = %.0f mm\n", pieces[p.Piece].Name,
			1e3*p.Along, 1e3*p.X, 1e3*p.Z)
	}
	// Output:
	// side A: frame at 120 mm, x = 27 mm, z = 18 mm
	// side B: frame at 180 mm, x = 23 mm, z = 18 mm
}

// A flaw of a girth weld lies across the seam, at the inner wall. (A pipe of invented size.)
func ExamplePipe_Length() {
	pipe := scan.Pipe{Radius: 80e-3}
	girth := scan.Round{Pipe: pipe}
	from, to := 0.495, 0.008 // positions of both ends on the outside, m
	surface, err := pipe.Length(from, to, 0)
	if err != nil {
		log.Fatal(err)
	}
	inner, err := pipe.Length(from, to, 10e-3)
	if err != nil {
		log.Fatal(err)
	}
	angle, err := pipe.Angle(from)
	if err != nil {
		log.Fatal(err)
	}
	pose, err := girth.Pose(from, 0)
	if err != nil {
		log.Fatal(err)
	}
	point, err := pose.Part(0, 10e-3)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.1f mm on the outside, %.1f mm at the inner wall\n", 1e3*surface, 1e3*inner)
	fmt.Printf("begins at %.1f°, at y = %.1f mm, z = %.1f mm\n", angle*180/math.Pi, 1e3*point.Y,
		1e3*point.Z)
	// Output:
	// 15.7 mm on the outside, 13.7 mm at the inner wall
	// begins at 354.5°, at y = -6.7 mm, z = 10.3 mm
}

// The operator went back to take a step again, and one step is missing.
func ExampleAssign() {
	frames := []fmc.Frame{
		{Index: 0, Position: 0}, {Index: 1, Position: 1.1e-3}, {Index: 2, Position: 3e-3},
		{Index: 3, Position: 4e-3}, {Index: 4, Position: 0.9e-3},
	}
	grid := scan.Grid{Along: scan.Axis{Step: 1e-3, Steps: 5}}
	assigned, err := scan.Assign(frames, grid, &scan.AssignOptions{Keep: scan.KeepLast})
	if err != nil {
		log.Fatal(err)
	}
	for step := range grid.Along.Steps {
		frame, ok := assigned.Frame(0, step)
		fmt.Println(step, frame, ok)
	}
	fmt.Println("gaps:", assigned.Gaps, "repeated:", assigned.Repeated)
	// Output:
	// 0 0 true
	// 1 4 true
	// 2 0 false
	// 3 2 true
	// 4 3 true
	// gaps: [{0 2 2}] repeated: [{0 1 [1 4]}]
}

// An encoder of 10 counts a millimetre has a play of 0.5 mm.
func ExampleEncoder_Positions() {
	encoder := scan.Encoder{CountsPerMetre: 10e3, Zero: 2000, Backlash: 0.5e-3}
	positions, err := encoder.Positions([]int64{2000, 2010, 2020, 2015, 2010})
	if err != nil {
		log.Fatal(err)
	}
	for _, p := range positions {
		fmt.Printf("%.1f mm\n", 1e3*p)
	}
	// Output:
	// 0.0 mm
	// 1.0 mm
	// 2.0 mm
	// 1.0 mm
	// 0.5 mm
}
