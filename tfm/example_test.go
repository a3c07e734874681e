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
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// points returns the capture of an array on a plate that holds point reflectors:
// a pulse a trace and reflector, at the time there and back. The scenario is
// invented.
func points(array fmc.Array, plate *wedge.Setup, reflectors []r3.Vec) *fmc.Capture {
	path, err := plate.Path([]material.Mode{material.L})
	if err != nil {
		log.Fatal(err)
	}
	c, err := fmc.New(fmc.Capture{
		Array:      array,
		Pairs:      fmc.HalfPairs(len(array.Elements)),
		Samples:    600,
		SampleRate: 50e6,
	})
	if err != nil {
		log.Fatal(err)
	}
	width := 1 / (2 * array.CentreFrequency * array.Bandwidth)
	for pair, trace := range c.Traces() {
		for _, r := range reflectors {
			there := path.Solve(array.Elements[pair.Tx], r).Time
			back := path.Solve(array.Elements[pair.Rx], r).Time
			for k := range trace {
				t := c.Time(k) - there - back
				trace[k] += float32(math.Exp(-t*t/(width*width)) * math.Cos(2*math.Pi*array.CentreFrequency*t))
			}
		}
	}
	return c
}

// Two holes in a plate, drawn with a character for each 6 dB: # within 6 dB of the
// highest peak, + within 12, a dot within 18. The picture of a small array is wide
// across its beam and short along it.
func Example() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, steel, 30e-3)
	if err != nil {
		log.Fatal(err)
	}
	array := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	for i := range 16 {
		array.Elements = append(array.Elements, r3.Vec{X: (float64(i) - 7.5) * 0.6e-3})
	}
	capture := points(array, plate, []r3.Vec{{X: -4e-3, Z: 10e-3}, {X: 3e-3, Z: 14e-3}})

	grid, err := tfm.NewSection(-9e-3, 9e-3, 8e-3, 16e-3, 0.4e-3)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(context.Background(), capture, plate, "L-L", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	image, err := plan.Image(context.Background(), capture)
	if err != nil {
		log.Fatal(err)
	}
	envelope := image.Envelope(nil)
	peak, _ := envelope.Peak()
	levels, err := envelope.Decibels(nil, peak, -24)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("depth      x from -9 to 9 mm")
	for r := range grid.Rows {
		fmt.Printf("%5.1f mm |", grid.Y(r)*1e3)
		for c := range grid.Cols {
			fmt.Printf("%c", " .+#"[min(3, int((24+levels.Z(c, r))/6))])
		}
		fmt.Println("|")
	}
	// Output:
	// depth      x from -9 to 9 mm
	//   8.0 mm |                                              |
	//   8.4 mm |                                              |
	//   8.8 mm |                                              |
	//   9.2 mm |           ..                                 |
	//   9.6 mm |          .+##.                               |
	//  10.0 mm |          .####.                              |
	//  10.4 mm |           .##+.                              |
	//  10.8 mm |             ..                               |
	//  11.2 mm |                                              |
	//  11.6 mm |                                              |
	//  12.0 mm |                                              |
	//  12.4 mm |                                              |
	//  12.8 mm |                                              |
	//  13.2 mm |                               ..             |
	//  13.6 mm |                            .+##+.            |
	//  14.0 mm |                           .+###+.            |
	//  14.4 mm |                           .+##+.             |
	//  14.8 mm |                                              |
	//  15.2 mm |                                              |
	//  15.6 mm |                                              |
	//  16.0 mm |                                              |
}
