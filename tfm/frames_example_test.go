// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Samples of your own, frame after frame: 24 elements in contact with a steel block, and int16
// samples in the order of the instrument. The envelopes of all frames share one memory. The point
// moves to the right from frame to frame. The scenario is invented.
func ExampleScratch_ReconstructInt16() {
	ctx := context.Background()
	array, err := fmc.LinearArray(24, 0.7e-3,
		fmc.Array{Width: 0.6e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	var pairs []fmc.Pair // this instrument delivers one receiver after the other
	for rx := range 24 {
		for tx := range 24 {
			pairs = append(pairs, fmc.Pair{Tx: tx, Rx: rx})
		}
	}
	capture, err := fmc.New(fmc.Capture{Array: array, Pairs: pairs, Samples: 640, SampleRate: 50e6})
	if err != nil {
		log.Fatal(err)
	}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	block, err := wedge.NewPlate(nil, steel, 40e-3) // nil: in contact
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(-8e-3, 8e-3, 14e-3, 22e-3, 0.2e-3)
	if err != nil {
		log.Fatal(err)
	}

	// Once: tables, and memory for the frames.
	plan, err := tfm.PlanView(ctx, capture, block, "L-L", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	scratch, envelope := plan.NewScratch(), new(tfm.Envelope)
	samples := make([]int16, len(capture.Data))

	for frame := range 3 {
		digitise(samples, capture, r2.Vec{X: float64(2*frame-1) * 1e-3, Y: 18e-3}, steel.Longitudinal)
		if err := scratch.ReconstructInt16(ctx, envelope, samples); err != nil {
			log.Fatal(err)
		}
		found, err := sizing.Find(envelope, nil)
		if err != nil {
			log.Fatal(err)
		}
		for _, f := range found {
			fmt.Printf("frame %d: x %4.1f mm, z %.1f mm, %.1f mm long, %.1f mm wide\n",
				frame, f.X*1e3, f.Z*1e3, f.Length*1e3, f.Width*1e3)
		}
	}
	// Output:
	// frame 0: x -1.0 mm, z 18.0 mm, 1.2 mm long, 0.8 mm wide
	// frame 1: x  1.0 mm, z 18.0 mm, 1.2 mm long, 0.8 mm wide
	// frame 2: x  3.0 mm, z 18.0 mm, 1.2 mm long, 0.8 mm wide
}

// digitise writes a frame as an instrument would: the echo of a point (x, z) in m, a pulse at the
// time there and back, trace after trace in the order of the pairs.
func digitise(samples []int16, c *fmc.Capture, point r2.Vec, speed float64) {
	for p, pair := range c.Pairs {
		there := math.Hypot(point.X-c.Array.Elements[pair.Tx].X, point.Y) / speed
		back := math.Hypot(point.X-c.Array.Elements[pair.Rx].X, point.Y) / speed
		for k := range c.Samples {
			t := c.Time(k) - there - back
			pulse := math.Exp(-t*t/(2*0.1e-6*0.1e-6)) * math.Cos(2*math.Pi*c.Array.CentreFrequency*t)
			samples[p*c.Samples+k] = int16(math.Round(8000 * pulse))
		}
	}
}
