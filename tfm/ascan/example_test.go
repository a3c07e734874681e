// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan_test

import (
	"context"
	"encoding/json"
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/wedge"
)

// load returns a capture of testdata with its set-up.
func load(name string) (*fmc.Capture, *wedge.Setup) {
	record, err := npy.ReadFile("../../testdata/"+name+".json", nil)
	if err != nil {
		log.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		log.Fatal(err)
	}
	return record.Capture, setup
}

// form returns the A-scan of one beam.
func form(c *fmc.Capture, setup *wedge.Setup, beam ascan.Beam) *ascan.Trace {
	plan, err := ascan.NewPlan(context.Background(), c, setup, []ascan.Beam{beam}, nil)
	if err != nil {
		log.Fatal(err)
	}
	traces, err := plan.Traces(context.Background(), c)
	if err != nil {
		log.Fatal(err)
	}
	return traces[0]
}

// An angle beam is aimed at the middle of the lack of fusion of a simulated weld, and read with two
// gates. The height is relative to an amplitude that was chosen for this example.
func ExampleReader_Read() {
	capture, setup := load("weld32")
	point := r3.Vec{X: 20e-3, Z: 9e-3}
	beam, err := ascan.Aim(setup, capture.Array, ascan.Beam{Mode: material.T}, point, 1)
	if err != nil {
		log.Fatal(err)
	}
	trace := form(capture, setup, beam)
	fmt.Printf("beam of %.0f°, probe index point at x = %.1f mm\n", beam.Angle*180/math.Pi, trace.Line.Exit.X*1e3)

	reader := ascan.Reader{FullHeight: 24.2e4, Setup: setup, Front: 5e-3}
	readings, err := reader.Read(trace, []ascan.Gate{
		{Name: "A", Start: 15e-3, End: 25e-3, Threshold: 20},
		{Name: "B", Start: 15e-3, End: 25e-3, Threshold: 20, Flank: true},
	})
	if err != nil {
		log.Fatal(err)
	}
	for _, r := range readings {
		fmt.Printf("%s: %.0f %%, %.0f dB above the threshold, sound path %.1f mm, depth %.1f mm, "+
			"%.1f mm before the probe, skips %d\n",
			r.Gate, r.Height, r.AboveThreshold, r.SoundPath*1e3, r.Depth*1e3, r.ProjectedDistance*1e3, r.Leg-1)
	}
	// Output:
	// beam of 64°, probe index point at x = 1.5 mm
	// A: 78 %, 12 dB above the threshold, sound path 20.5 mm, depth 9.0 mm, 14.9 mm before the probe, skips 0
	// B: 78 %, 12 dB above the threshold, sound path 20.1 mm, depth 8.8 mm, 14.6 mm before the probe, skips 0
}

// The wall of a pipe is measured through water, from two successive echoes.
func ExampleReader_BackWall() {
	capture, setup := load("pipe32")
	focus := ascan.Focus{SoundPath: 27e-3}
	beam := ascan.Beam{Mode: material.L, Transmit: focus, Receive: focus}
	for e := 18; e < 30; e++ {
		beam.Elements = append(beam.Elements, e)
	}
	trace := form(capture, setup, beam)
	reader := ascan.Reader{FullHeight: 5e4, Setup: setup}
	wall, err := reader.BackWall(trace, ascan.Gate{Name: "wall", Start: 12e-3, End: 16e-3, Threshold: 20})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("first back-wall echo at %.1f mm, thickness %.1f mm from %d echoes\n",
		wall.Echoes[0].SoundPath*1e3, wall.Thickness*1e3, len(wall.Echoes))
	// Output:
	// first back-wall echo at 14.0 mm, thickness 14.0 mm from 2 echoes
}

// A sector image has its true place in the part.
func ExampleImage() {
	ctx := context.Background()
	capture, setup := load("block16")
	const degree = math.Pi / 180
	like := ascan.Beam{Mode: material.L, Transmit: ascan.Focus{Depth: 16e-3}, Receive: ascan.Focus{Dynamic: true}}
	beams, err := ascan.Sector(like, -30*degree, 10*degree, 1*degree)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := ascan.NewPlan(ctx, capture, setup, beams, nil)
	if err != nil {
		log.Fatal(err)
	}
	traces, err := plan.Traces(ctx, capture)
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(-6e-3, 0, 12e-3, 20e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	image, err := ascan.Image(grid, traces, 1)
	if err != nil {
		log.Fatal(err)
	}
	_, index := image.Peak()
	peak := image.Point(index)
	fmt.Printf("the hole at x = -3 mm, z = 17 mm shows at x = %.0f mm, z = %.0f mm\n", peak.X*1e3, peak.Z*1e3)
	// Output:
	// the hole at x = -3 mm, z = 17 mm shows at x = -3 mm, z = 16 mm
}

// A linear image moves the aperture along the array.
func ExampleLinear() {
	beams, err := ascan.Linear(ascan.Beam{Mode: material.L}, 16, 8, 4)
	if err != nil {
		log.Fatal(err)
	}
	for _, b := range beams {
		fmt.Println(b.Elements)
	}
	// Output:
	// [0 1 2 3 4 5 6 7]
	// [4 5 6 7 8 9 10 11]
	// [8 9 10 11 12 13 14 15]
}

// An A-scan is kept as JSON, and read back with the same bits.
func ExampleTrace_MarshalJSON() {
	capture, _ := load("block16")
	trace, err := ascan.NewPair(capture, fmc.Pair{Tx: 3, Rx: 3}, tfm.Band{})
	if err != nil {
		log.Fatal(err)
	}
	data, err := json.Marshal(trace)
	if err != nil {
		log.Fatal(err)
	}
	var again ascan.Trace
	if err := json.Unmarshal(data, &again); err != nil {
		log.Fatal(err)
	}
	fmt.Println(again.Pair, len(again.Analytic), again.Analytic[500] == trace.Analytic[500])
	// Output:
	// 3→3 1000 true
}
