// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan_test

import (
	"context"
	"fmt"
	"io"
	"log"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
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

// A scan of one element over a plate. The frame at 5 mm was lost, and the coupling was lost from 7 to
// 8 mm. (Invented samples: noise, and a back-wall echo from 9 to 10 µs.)
func ExampleCheck() {
	array, err := fmc.LinearArray(1, 1e-3,
		fmc.Array{Width: 0.8e-3, CentreFrequency: 5e6, Bandwidth: 0.7})
	if err != nil {
		log.Fatal(err)
	}
	capture, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(1), Samples: 600,
		SampleRate: 50e6})
	if err != nil {
		log.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	next := 0
	source := func(context.Context) (fmc.Frame, error) {
		if next == 5 {
			next++
		}
		if next == 20 {
			return fmc.Frame{}, io.EOF
		}
		amplitude := 100.0
		if next == 7 || next == 8 {
			amplitude = 10
		}
		for k := range capture.Data {
			capture.Data[k] = float32(rng.NormFloat64())
			if k >= 450 && k < 500 {
				capture.Data[k] += float32(amplitude * math.Sin(2*math.Pi*float64(k)/10))
			}
		}
		next++
		return fmc.Frame{Index: next - 1, Time: 0.1 * float64(next-1), Position: 1e-3 * float64(next-1),
			Capture: capture}, nil
	}
	report, err := scan.Check(context.Background(), source, &scan.Options{
		Grid:  scan.Grid{Along: scan.Axis{Step: 1e-3, Steps: 20}},
		Gates: []scan.Gate{{Name: "back wall", Gate: health.Gate{From: 9e-6, To: 10e-6}}},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d of %d places\n", report.Covered, report.Places)
	for _, finding := range report.Findings {
		fmt.Println(finding)
	}
	// Output:
	// 19 of 20 places
	// lost frames: frame 5, 4 to 6 mm: 1, limit 0
	// missing steps: 5 mm: 1, limit 0
	// coupling loss of back wall: frames 7 to 8, 7 to 8 mm: 20.1 dB, limit 6 dB
}
