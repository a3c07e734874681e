// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity_test

import (
	"context"
	"fmt"
	"io"
	"log"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/tfm/sensitivity"
	"github.com/isochron-imaging/isochron/wedge"
)

// A plan of an inspection, without a capture: where an array in contact would show vertical cracks,
// and which share of a zone it covers. All sizes are invented.
func ExampleCoverage() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, steel, 20e-3)
	if err != nil {
		log.Fatal(err)
	}
	array, err := fmc.LinearArray(24, 0.7e-3, fmc.Array{Width: 0.6e-3, CentreFrequency: 4e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	like, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(24), Samples: 1000, SampleRate: 50e6})
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(0, 30e-3, 1e-3, 19.5e-3, 0.5e-3)
	if err != nil {
		log.Fatal(err)
	}
	crack := sensitivity.Planar{Length: 2e-3}
	var maps []*sensitivity.Map
	best := 0.0
	for _, view := range []string{"T-T", "TT-T"} {
		m, err := sensitivity.New(context.Background(), like, plate, view, grid, crack, nil)
		if err != nil {
			log.Fatal(err)
		}
		peak, _ := m.Peak()
		best, maps = math.Max(best, float64(peak)), append(maps, m)
	}
	zone := wedge.Outline{{X: 12e-3, Y: 10e-3}, {X: 20e-3, Y: 10e-3}, {X: 20e-3, Y: 19e-3}, {X: 12e-3, Y: 19e-3}, {X: 12e-3, Y: 10e-3}}
	for _, m := range maps {
		share, err := sensitivity.Coverage([]wedge.Outline{zone}, best, -13, m)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("%-4s %3.0f %%\n", m.View, 100*share)
	}
	levels, err := maps[1].Decibels(nil, float32(best), -36)
	if err != nil {
		log.Fatal(err)
	}
	section := picture.Section{Title: "vertical cracks, view TT-T", Levels: levels, Weld: []wedge.Outline{zone}}
	if err := section.WritePNG(io.Discard); err != nil { // a file
		log.Fatal(err)
	}
	// Output:
	// T-T    0 %
	// TT-T  41 %
}
