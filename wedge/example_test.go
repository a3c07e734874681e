// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// A transverse wave goes through a polystyrene wedge into a steel plate, directly to a point and
// with one skip off the back wall. The scenario is invented.
func ExampleSetup_Path() {
	polystyrene := material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(&polystyrene, steel, 12e-3)
	if err != nil {
		log.Fatal(err)
	}
	element, point := r3.Vec{X: -10e-3, Z: -12e-3}, r3.Vec{X: 14e-3, Z: 8e-3}
	for _, modes := range [][]material.Mode{
		{material.T},
		{material.T, material.T},
		{material.L, material.T},
	} {
		path, err := plate.Path(modes)
		if err != nil {
			log.Fatal(err)
		}
		ray := path.Solve(element, point)
		if err := ray.Status.Err(); err != nil {
			log.Fatal(err)
		}
		in, out := ray.Angles(0)
		fmt.Printf("%v: %.3f µs, enters at x = %.2f mm, %.1f° in the wedge, %.1f° in the part\n",
			modes, ray.Time*1e6, ray.Points[1].X*1e3, in*180/math.Pi, out*180/math.Pi)
	}
	// Output:
	// [T]: 11.656 µs, enters at x = -0.38 mm, 38.7° in the wedge, 60.9° in the part
	// [T T]: 13.134 µs, enters at x = -2.74 mm, 31.2° in the wedge, 46.3° in the part
	// [L T]: 10.457 µs, enters at x = -5.86 mm, 19.0° in the wedge, 56.0° in the part
}

// The status of a ray tells why the path cannot reach a point. The time is then NaN.
func ExampleStatus() {
	water := material.Isotropic{Density: 998, Longitudinal: 1482}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	pipe, err := wedge.NewPipe(&water, steel, 57e-3, 12e-3)
	if err != nil {
		log.Fatal(err)
	}
	path, err := pipe.Path([]material.Mode{material.L})
	if err != nil {
		log.Fatal(err)
	}
	ray := path.Solve(r3.Vec{Z: -10e-3}, r3.Vec{X: 40e-3, Z: 5e-3}) // beside the pipe
	fmt.Println(ray.Status, ray.Time)
	fmt.Println(ray.Status.Err())
	// Output:
	// EndOutside NaN
	// wedge: no ray: the end is not finite or lies outside the part
}

// The table of times from three elements, in contact with a plate, to five points below the middle
// element.
func ExamplePath_Times() {
	aluminium := material.Isotropic{Density: 2700, Longitudinal: 6320, Transverse: 3130}
	plate, err := wedge.NewPlate(nil, aluminium, 40e-3)
	if err != nil {
		log.Fatal(err)
	}
	path, err := plate.Path([]material.Mode{material.L})
	if err != nil {
		log.Fatal(err)
	}
	elements := []r3.Vec{{X: -5e-3}, {}, {X: 5e-3}}
	var points []r3.Vec
	for i := range 5 {
		points = append(points, r3.Vec{Z: float64(i+1) * 4e-3})
	}
	table, err := path.Times(context.Background(), elements, points, nil)
	if err != nil {
		log.Fatal(err)
	}
	for e := range table.Elements {
		fmt.Printf("element %d:", e)
		for p := range table.Points {
			fmt.Printf(" %.3f", table.Seconds[e*table.Points+p]*1e6)
		}
		fmt.Println(" µs")
	}
	// Output:
	// element 0: 1.013 1.493 2.057 2.652 3.262 µs
	// element 1: 0.633 1.266 1.899 2.532 3.165 µs
	// element 2: 1.013 1.493 2.057 2.652 3.262 µs
}

// The echo of the lower corner at the end of a plate goes down to the back wall, off the end, and
// up again. By mirror images its time equals the time from the midpoint of both elements to the
// corner and back.
func ExampleNewPath() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	part, err := wedge.NewPlate(nil, steel, 0.030)
	if err != nil {
		log.Fatal(err)
	}
	end, err := wedge.NewPlane(r3.Vec{X: 0.040}, r3.Vec{X: 1})
	if err != nil {
		log.Fatal(err)
	}
	part.Sides = []wedge.Surface{end}
	leg := wedge.Leg{Speed: steel.Transverse, Mode: material.T}
	path, err := wedge.NewPath([]wedge.Leg{leg, leg, leg}, []wedge.Crossing{
		{Surface: part.Back, From: wedge.Near, Reflects: true},
		{Surface: end, From: wedge.Near, Reflects: true},
	})
	if err != nil {
		log.Fatal(err)
	}
	ray := path.Solve(r3.Vec{X: -0.005}, r3.Vec{X: 0.005})
	fmt.Printf("%v, %.3f µs\n", ray.Status, ray.Time*1e6)
	for _, p := range ray.Points {
		fmt.Printf("(%.1f, %.1f) mm, in the part: %v\n", p.X*1e3, p.Z*1e3, part.Inside(p))
	}
	fmt.Printf("to the corner and back: 2 · 50 mm / 3240 m/s = %.3f µs\n", 2*0.050/3240*1e6)
	// Output:
	// OK, 30.864 µs
	// (-5.0, 0.0) mm, in the part: true
	// (35.0, 30.0) mm, in the part: true
	// (40.0, 26.2) mm, in the part: true
	// (5.0, 0.0) mm, in the part: true
	// to the corner and back: 2 · 50 mm / 3240 m/s = 30.864 µs
}
