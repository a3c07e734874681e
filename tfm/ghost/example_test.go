// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost_test

import (
	"context"
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
)

// The converted echo of the back wall of a 20 mm plate appears below the plate in the view L-L, and
// inside the plate in the view T-T.
func ExampleEchoes_Predict() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	setup, err := wedge.NewPlate(nil, steel, 20e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	array := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	for i := range 16 {
		array.Elements = append(array.Elements, r3.Vec{X: (float64(i) - 7.5) * 0.6e-3})
	}
	echoes, err := ghost.New(context.Background(), setup, array, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	grid, err := tfm.NewSection(0, 0, 10e-3, 35e-3, 0.2e-3) // one column, below the middle
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, name := range []string{"L-L", "T-T"} {
		view, err := wedge.ParseView(name)
		if err != nil {
			fmt.Println(err)
			return
		}
		options := &ghost.PredictOptions{Names: []string{"L-T echo of the back wall"}}
		ghosts, err := echoes.Predict(context.Background(), view, grid, options)
		if err != nil {
			fmt.Println(err)
			return
		}
		for _, g := range ghosts {
			fmt.Printf("view %s: %s at z = %.0f mm\n", name, g.Echo, g.At.Z*1e3)
		}
	}
	// Output:
	// view L-L: L-T echo of the back wall at z = 28 mm
	// view T-T: L-T echo of the back wall at z = 15 mm
}

// A capture of a plate with holes has an indication beside the first hole in the view T-L: the
// longitudinal echo of the hole, at the wrong speed.
func ExampleEchoes_Explain() {
	record, err := npy.ReadFile("../../testdata/block16.json", nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	setup, err := record.Geometry()
	if err != nil {
		fmt.Println(err)
		return
	}
	first := record.Truth.Holes[0]
	known := []ghost.Reflector{{
		Name: "the first hole", Outline: wedge.Outline{{X: first.X, Y: first.Z}}, Radius: first.Diameter / 2,
	}}
	ctx := context.Background()
	echoes, err := ghost.New(ctx, setup, record.Capture.Array, &ghost.Options{Reflectors: known})
	if err != nil {
		fmt.Println(err)
		return
	}
	view, err := wedge.ParseView("T-L")
	if err != nil {
		fmt.Println(err)
		return
	}
	places := []r3.Vec{{X: -6.8e-3, Z: 6.4e-3}} // of an indication that sizing.Find lists
	why, err := echoes.Explain(ctx, record.Capture, view, places, tfm.Band{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: %.0f %% of the amplitude\n", why[0].Echo, 100*why[0].Share)
	// Output:
	// L-L echo of the first hole: 100 % of the amplitude
}
