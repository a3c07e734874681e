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
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Five plane waves image a reflector in a plate. Here they are made from a half
// matrix; an instrument that fires them captures them as they are.
func ExampleEventTimes() {
	ctx := context.Background()
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, steel, 30e-3)
	if err != nil {
		log.Fatal(err)
	}
	array, err := fmc.LinearArray(16, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	half := points(array, plate, []r3.Vec{{X: 1e-3, Z: 12e-3}})
	var directions []r3.Vec
	for _, angle := range []float64{-0.2, -0.1, 0, 0.1, 0.2} {
		directions = append(directions, r3.Vec{X: math.Sin(angle), Z: math.Cos(angle)})
	}
	waves, err := transmit.PlaneWaves(array, steel.Longitudinal, directions)
	if err != nil {
		log.Fatal(err)
	}
	capture, err := transmit.Encode(ctx, half, waves, nil)
	if err != nil {
		log.Fatal(err)
	}

	grid, err := tfm.NewSection(-6e-3, 6e-3, 8e-3, 16e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	path, err := plate.Path([]material.Mode{material.L})
	if err != nil {
		log.Fatal(err)
	}
	receive, err := path.Times(ctx, array.Elements, grid.Points(), nil)
	if err != nil {
		log.Fatal(err)
	}
	transmitting, err := tfm.EventTimes(ctx, capture, receive, nil)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.NewPlan(capture, grid, transmitting, receive, nil)
	if err != nil {
		log.Fatal(err)
	}
	image, err := plan.Image(ctx, capture)
	if err != nil {
		log.Fatal(err)
	}
	_, index := image.Envelope(nil).Peak()
	peak := grid.Point(index)
	fmt.Printf("%d traces instead of %d\n", len(capture.Pairs), 16*16)
	fmt.Printf("peak at x = %.1f mm, z = %.1f mm\n", peak.X*1e3, peak.Z*1e3)
	// Output:
	// 80 traces instead of 256
	// peak at x = 1.0 mm, z = 12.0 mm
}
