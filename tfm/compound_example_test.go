// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/tfm"
)

// A hole 31 mm below an array of 16 elements, imaged by 27 plane waves and by 16 virtual sources. Their
// traces are made from the full matrix of a full-wave simulation, as an instrument would record them.
func ExampleCompoundOptions() {
	ctx := context.Background()
	record, err := npy.ReadFile("../testdata/block16.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		log.Fatal(err)
	}
	full, speed := record.Capture, record.Part.Longitudinal
	fan := transmit.Fan{From: -55 * math.Pi / 180, To: 55 * math.Pi / 180, Count: 27}
	directions, err := fan.Directions(speed, speed) // in contact
	if err != nil {
		log.Fatal(err)
	}
	planes, err := transmit.PlaneWaves(full.Array, speed, directions)
	if err != nil {
		log.Fatal(err)
	}
	var sources []r3.Vec
	for _, e := range full.Array.Elements {
		sources = append(sources, r3.Add(e, r3.Vec{Z: -4e-3}))
	}
	diverging, err := transmit.Diverging(full.Array, speed, sources)
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(5e-3, 12e-3, 28e-3, 33e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	for _, waves := range []struct {
		name   string
		events []fmc.Event
	}{{"plane waves", planes}, {"virtual sources", diverging}} {
		capture, err := transmit.Encode(ctx, full, waves.events, nil)
		if err != nil {
			log.Fatal(err)
		}
		plan, err := tfm.PlanView(ctx, capture, setup, "L-L", grid, &tfm.Options{Compound: &tfm.CompoundOptions{}})
		if err != nil {
			log.Fatal(err)
		}
		image, err := plan.Image(ctx, capture)
		if err != nil {
			log.Fatal(err)
		}
		_, index := image.Envelope(nil).Peak()
		peak := grid.Point(index)
		fmt.Printf("%d %s: peak at x = %.1f mm, z = %.1f mm; share of the aperture %.1f\n",
			len(waves.events), waves.name, peak.X*1e3, peak.Z*1e3, plan.Shares()[index])
	}
	// Output:
	// 27 plane waves: peak at x = 8.5 mm, z = 30.4 mm; share of the aperture 1.0
	// 16 virtual sources: peak at x = 8.5 mm, z = 30.4 mm; share of the aperture 0.9
}
