// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// Lack of fusion on the left bevel of a single-V weld of 16 mm, under an array on a wedge of 36°
// on the left. After a skip off the back wall its beam strikes the bevel at nearly a right angle,
// and returns the same way: view TT-TT. The weld and the flaw are invented.
func ExampleCrack() {
	const mm, degree, angle = 1e-3, math.Pi / 180, 36 * math.Pi / 180
	medium := func(name string) material.Isotropic {
		entry, err := material.Handbook().Find(name)
		if err != nil {
			log.Fatal(err)
		}
		m, err := entry.Isotropic()
		if err != nil {
			log.Fatal(err)
		}
		return m
	}
	polystyrene, steel := medium("polystyrene"), medium("steel")
	beam := material.Refract(angle, polystyrene.Longitudinal, steel.Transverse)
	fmt.Printf("beam of %.0f° in steel\n", beam/degree)

	// The preparation. Its origin is the middle of the root gap on the entry surface.
	edge := joint.Edge{Upper: joint.Bevel{Angle: 35 * degree}}
	weld, err := joint.Butt{
		Thickness: 16 * mm, Gap: 2 * mm, RootFace: 2 * mm, Left: edge, Right: edge,
		Cap: joint.Bead{Height: 1.5 * mm, Width: 24 * mm},
	}.Joint()
	if err != nil {
		log.Fatal(err)
	}
	bevel, ok := weld.Face("left bevel")
	if !ok {
		log.Fatal("no left bevel")
	}
	top, bottom := bevel.At(0.35), bevel.At(0.65)

	// The array on its wedge. The beam from its middle enters the plate at the index of the beam
	// that strikes the middle of the bevel at a right angle after one skip.
	square, err := weld.Plate.Square(bevel, 0.5, 1)
	if err != nil {
		log.Fatal(err)
	}
	array, err := fmc.LinearArray(24, 0.6*mm,
		fmc.Array{Width: 0.5 * mm, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	const height = 8 * mm // of the middle of the array over the plate
	array, err = array.Place(r3.NewRotation(angle, r3.Vec{Y: 1}),
		r3.Vec{X: square.Index - height*math.Tan(angle), Z: -height})
	if err != nil {
		log.Fatal(err)
	}
	setup, err := weld.Setup(weld.Plate, steel, 10e-6)
	if err != nil {
		log.Fatal(err)
	}
	setup.Coupling = &polystyrene

	// The capture, and its image in the same view.
	view, err := wedge.ParseView("TT-TT")
	if err != nil {
		log.Fatal(err)
	}
	scene := &synth.Scene{
		Setup: *setup, Array: array, Dimension: wedge.Section, Views: []wedge.View{view},
		Reflectors: []synth.Reflector{synth.Crack{
			From: r3.Vec{X: top.X, Z: top.Y}, To: r3.Vec{X: bottom.X, Z: bottom.Y},
		}},
	}
	ctx := context.Background()
	recording := synth.Recording{Samples: 1000, SampleRate: 50e6, FirstSample: 25e-6}
	capture, err := synth.Synthesise(ctx, scene, recording)
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(-11*mm, 2*mm, 1*mm, 15*mm, 0.2*mm)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, capture, setup, "TT-TT", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	image, err := plan.Image(ctx, capture)
	if err != nil {
		log.Fatal(err)
	}
	found, err := sizing.Find(image.Envelope(nil), nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("flaw %.1f mm long at %.0f°\n", r2.Norm(r2.Sub(bottom, top))/mm,
		-bevel.Inclination(0.5)/degree) // a tilt is positive where the top leans to +x
	for _, f := range found {
		place := weld.Nearest(r2.Vec{X: f.X, Y: f.Z})
		fmt.Printf("indication %.1f mm long at %.0f°, %.1f mm from the %s\n", f.Length/mm,
			f.Tilt/degree, math.Abs(place.Distance)/mm, place.Face.Name)
	}
	// Output:
	// beam of 54° in steel
	// flaw 5.1 mm long at -35°
	// indication 5.3 mm long at -35°, 0.0 mm from the left bevel
}
