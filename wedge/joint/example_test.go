// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint_test

import (
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// Three indications in a single-V weld, and the beam that strikes its bevel at a right angle. The
// weld and the indications are invented.
func Example() {
	const mm, degree = 1e-3, math.Pi / 180
	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * degree}}
	weld, err := joint.Butt{
		Thickness: 20 * mm, Gap: 3 * mm, RootFace: 2 * mm, Left: edge, Right: edge,
		Cap:  joint.Bead{Height: 2 * mm, Width: 28 * mm},
		Root: joint.Bead{Height: 1 * mm, Width: 6 * mm},
	}.Joint()
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("weld metal %.1f mm²\n\n", weld.Area()*1e6)
	fmt.Println("  x mm  z mm  of thickness  zone                from face")
	for _, p := range []r2.Vec{{X: -7.0 * mm, Y: 9 * mm}, {X: 2.1 * mm, Y: 19 * mm},
		{X: -0.5 * mm, Y: 4 * mm}} {
		n := weld.Nearest(p)
		fmt.Printf("%6.1f %5.1f %10.0f %%   %-18v %5.1f mm  %s at %.0f°\n", p.X/mm, p.Y/mm,
			100*weld.DepthFraction(p), weld.Zone(p,
				3*mm), n.Distance/mm, n.Face.Name, math.Abs(n.Inclination)/degree)
	}
	bevel, _ := weld.Face("left bevel")
	beam, err := weld.Square(bevel, 0.5, 1)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("\nmiddle of the left bevel after one skip: %.0f° from x = %.1f mm\n",
		beam.Angle/degree, beam.Index/mm)
	// Output:
	// weld metal 288.6 mm²
	//
	//   x mm  z mm  of thickness  zone                from face
	//   -7.0   9.0         45 %   heat-affected zone   0.3 mm  left bevel at 30°
	//    2.1  19.0         95 %   heat-affected zone   0.6 mm  right root face at 0°
	//   -0.5   4.0         20 %   weld metal          -7.9 mm  left bevel at 30°
	//
	// middle of the left bevel after one skip: 60° from x = -60.4 mm
}

// Rays from an element with one skip. No ray skips off the root bead. The right plate is thicker by
// 5 mm on the far side. The sizes are invented.
func ExampleJoint_Setup() {
	const mm, degree = 1e-3, math.Pi / 180
	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * degree}}
	weld, err := joint.Butt{
		Thickness: 20 * mm, Gap: 3 * mm, RootFace: 2 * mm, Left: edge, Right: edge,
		Root:       joint.Bead{Height: 1 * mm, Width: 6 * mm},
		RightTaper: joint.Taper{Below: 5 * mm, Angle: 14 * degree}, // a slope of 1 : 4
	}.Joint()
	if err != nil {
		log.Fatal(err)
	}
	steel := material.Isotropic{Longitudinal: 5920, Transverse: 3240, Density: 7850}
	setup, err := weld.Setup(weld.Plate, steel, 10e-6)
	if err != nil {
		log.Fatal(err)
	}
	path, err := setup.Path([]material.Mode{material.T, material.T})
	if err != nil {
		log.Fatal(err)
	}
	element := r3.Vec{X: -35 * mm}
	for _, x := range []float64{8, 12, 16} {
		ray := path.Solve(element, r3.Vec{X: x * mm, Z: 10 * mm})
		fmt.Printf("x = %2.0f mm: %v", x, ray.Status)
		if ray.Status == wedge.OK {
			fmt.Printf(", %.2f µs by way of x = %.1f mm", ray.Time*1e6, ray.Points[1].X/mm)
		}
		fmt.Println()
	}
	other := weld.Other
	back := other.Top + other.Thickness
	fmt.Printf("back wall of the %s: %.0f mm deep from x = %.1f mm on\n",
		other.Name, back/mm, other.BackGaps[0].Max/mm)
	// Output:
	// x =  8 mm: OK, 16.18 µs by way of x = -6.3 mm
	// x = 12 mm: OK, 17.21 µs by way of x = -3.7 mm
	// x = 16 mm: OffSurface
	// back wall of the right plate: 25 mm deep from x = 23.1 mm on
}

// A T joint with a fillet weld on the left and a single-bevel butt weld on the right. The root face
// between the welds is not welded. The sizes are invented.
func ExampleTee() {
	const mm, degree = 1e-3, math.Pi / 180
	fillet := joint.Fillet{Leg: 8 * mm}
	weld, err := joint.Tee{
		Flange: 16 * mm, Web: 12 * mm,
		Left: joint.TeeWeld{Fillet: fillet},
		Right: joint.TeeWeld{
			Fillet: joint.Fillet{Leg: 4 * mm, OtherLeg: 12 * mm}, Angle: 50 * degree, Depth: 7 * mm,
		},
	}.Joint()
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("throat on the left %.2f mm, weld metal %.1f mm²\n", fillet.Throat()/mm,
		weld.Area()*1e6)
	for _, name := range []string{"left root", "right root"} {
		at := weld.Marks[name]
		fmt.Printf("%s at x = %.1f mm, z = %.1f mm\n", name, at.X/mm, at.Y/mm)
	}
	fmt.Println("in the web over the right bevel:", weld.Zone(r2.Vec{X: 1 * mm, Y: 22 * mm}, 3*mm))
	// Output:
	// throat on the left 5.66 mm, weld metal 85.2 mm²
	// left root at x = -6.0 mm, z = 16.0 mm
	// right root at x = -1.0 mm, z = 16.0 mm
	// in the web over the right bevel: heat-affected zone
}

// A lap joint with one fillet weld. An array on the upper plate cannot reach a point of the lower
// plate through the gap between the plates. The sizes are invented.
func ExampleLap() {
	const mm = 1e-3
	weld, err := joint.Lap{
		Upper: 10 * mm, Lower: 12 * mm, Overlap: 40 * mm, Gap: 0.5 * mm,
		Right: joint.Fillet{Leg: 8 * mm, OtherLeg: 9 * mm},
	}.Joint()
	if err != nil {
		log.Fatal(err)
	}
	steel := material.Isotropic{Longitudinal: 5920, Transverse: 3240, Density: 7850}
	setup, err := weld.Setup(weld.Plate, steel, 10e-6)
	if err != nil {
		log.Fatal(err)
	}
	path, err := setup.Path([]material.Mode{material.L})
	if err != nil {
		log.Fatal(err)
	}
	element := r3.Vec{X: 10 * mm}
	for _, end := range []r3.Vec{{X: 15 * mm, Z: 8 * mm}, {X: 15 * mm, Z: 16 * mm},
		{X: 24 * mm, Z: 8 * mm}} {
		zone := weld.Zone(r2.Vec{X: end.X, Y: end.Z}, 2*mm)
		fmt.Printf("%v at x = %.0f mm, z = %.0f mm: %v\n", zone, end.X/mm, end.Z/mm,
			path.Solve(element, end).Status)
	}
	// Output:
	// parent metal at x = 15 mm, z = 8 mm: OK
	// parent metal at x = 15 mm, z = 16 mm: Obstructed
	// weld metal at x = 24 mm, z = 8 mm: OK
}
