// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost_test

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// The converted echo of the back wall of a 20 mm plate appears below the plate in the view L-L,
// and inside the plate in the view T-T.
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

// The root bead and the cap of a weld are reflectors. For an array beside the weld, the L-L echo
// of a toe of the root shows inside the plate in the view T-T. The sizes are invented.
func ExampleWeld() {
	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * math.Pi / 180}}
	weld, err := joint.Butt{
		Thickness: 20e-3, Gap: 3e-3, RootFace: 2e-3, Left: edge, Right: edge,
		Cap: joint.Bead{Height: 2e-3, Width: 28e-3}, Root: joint.Bead{Height: 1e-3, Width: 6e-3},
	}.Joint()
	if err != nil {
		fmt.Println(err)
		return
	}
	const tolerance = 20e-6 // the same for the set-up and the reflectors
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	setup, err := weld.Setup(weld.Plate, steel, tolerance)
	if err != nil {
		fmt.Println(err)
		return
	}
	known, err := ghost.Weld(weld, tolerance)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range known {
		first, last := r.Outline[0], r.Outline[len(r.Outline)-1]
		fmt.Printf("%s: toes at x = %.0f mm and %.0f mm, z = %.0f mm\n", r.Name, first.X*1e3, last.X*1e3, first.Y*1e3)
	}
	array := fmc.Array{Width: 0.7e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	for i := range 16 {
		array.Elements = append(array.Elements, r3.Vec{X: -30e-3 + float64(i)*0.8e-3})
	}
	ctx := context.Background()
	echoes, err := ghost.New(ctx, setup, array, &ghost.Options{Reflectors: known})
	if err != nil {
		fmt.Println(err)
		return
	}
	view, err := wedge.ParseView("T-T")
	if err != nil {
		fmt.Println(err)
		return
	}
	grid, err := tfm.NewSection(-25e-3, 5e-3, 5e-3, 20e-3, 0.25e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	options := &ghost.PredictOptions{Names: []string{"L-L echo of the last end of the root"}}
	ghosts, err := echoes.Predict(ctx, view, grid, options)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, g := range ghosts {
		fmt.Printf("%s at x = %.0f mm, z = %.0f mm\n", g.Echo, g.At.X*1e3, g.At.Z*1e3)
	}
	// Output:
	// the cap: toes at x = -14 mm and 14 mm, z = 0 mm
	// the root: toes at x = -3 mm and 3 mm, z = 20 mm
	// L-L echo of the last end of the root at x = -18 mm, z = 17 mm
}

// The indications of the view L-L explain their own ghosts in the view T-L, though nobody has told
// that there are holes. The grids leave out the echo of the back wall.
func ExampleReflector() {
	ctx := context.Background()
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
	found := map[string][]sizing.Indication{}
	for _, name := range []string{"L-L", "T-L"} {
		bottom := 36e-3
		if name == "T-L" {
			bottom = 24e-3
		}
		grid, err := tfm.NewSection(-12e-3, 12e-3, 5e-3, bottom, 0.25e-3)
		if err != nil {
			fmt.Println(err)
			return
		}
		plan, err := tfm.PlanView(ctx, record.Capture, setup, name, grid, nil)
		if err != nil {
			fmt.Println(err)
			return
		}
		image, err := plan.Image(ctx, record.Capture)
		if err != nil {
			fmt.Println(err)
			return
		}
		found[name], err = sizing.Find(image.Envelope(nil), &sizing.Options{Floor: -8})
		if err != nil {
			fmt.Println(err)
			return
		}
	}
	var known []ghost.Reflector
	for _, f := range found["L-L"] {
		name := fmt.Sprintf("indication %d in L-L", f.ID)
		known = append(known, ghost.Reflector{Name: name, Outline: wedge.Outline{{X: f.X, Y: f.Z}}})
	}
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
	var places []r3.Vec
	for _, f := range found["T-L"] {
		places = append(places, r3.Vec{X: f.X, Z: f.Z})
	}
	why, err := echoes.Explain(ctx, record.Capture, view, places, tfm.Band{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i, x := range why {
		fmt.Printf("x = %.0f mm, z = %.0f mm: %s\n", places[i].X*1e3, places[i].Z*1e3, x.Echo)
	}
	// Output:
	// x = -7 mm, z = 6 mm: L-L echo of indication 3 in L-L
	// x = 6 mm, z = 20 mm: L-L echo of indication 4 in L-L
	// x = -2 mm, z = 11 mm: L-L echo of indication 1 in L-L
	// x = 2 mm, z = 15 mm: L-L echo of indication 2 in L-L
}
