// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge_test

import (
	"context"
	"fmt"
	"log"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// An array hangs in water over a pipe, at a height that changes while the user watches. A table of
// times for 201 × 101 pixels needs few rays.
func ExamplePath_Interpolate() {
	water := material.Isotropic{Density: 998, Longitudinal: 1480}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}
	setup, err := wedge.NewPipe(&water, steel, 60e-3, 20e-3)
	if err != nil {
		log.Fatal(err)
	}
	path, err := setup.Path([]material.Mode{material.L})
	if err != nil {
		log.Fatal(err)
	}
	grid := wedge.Grid{Origin: r3.Vec{X: -10e-3, Z: 5e-3}, Step: r3.Vec{X: 0.1e-3, Y: 1, Z: 0.1e-3}, Cols: 201, Rows: 101, Slices: 1}
	options := wedge.InterpolateOptions{Tolerance: 0.2e-9}
	for _, height := range []float64{10e-3, 12e-3} {
		elements := []r3.Vec{{X: -3e-3, Z: -height}, {Z: -height}, {X: 3e-3, Z: -height}}
		times, err := path.Interpolate(context.Background(), elements, grid, &options)
		if err != nil {
			log.Fatal(err)
		}
		ray := path.Solve(elements[0], grid.Point(777))
		off := math.Abs(float64(times.Seconds[777]) - ray.Time)
		share := float64(times.Rays) / float64(len(times.Seconds))
		fmt.Printf("height %.0f mm: %.0f %% of the rays, error below 0.2 ns: %v\n", height*1e3, 100*share, off < 0.2e-9)
		options.Reuse = times // the next table takes its memory
	}
	// Output:
	// height 10 mm: 1 % of the rays, error below 0.2 ns: true
	// height 12 mm: 1 % of the rays, error below 0.2 ns: true
}

// A surface is measured on a grid of 2 mm. A ray from water into the part leaves the plane of the
// array, because the surface slopes along y there.
func ExampleNewHeightField() {
	var x, y, z []float64
	for i := -10; i <= 10; i++ {
		x, y = append(x, 2e-3*float64(i)), append(y, 2e-3*float64(i))
	}
	for _, v := range y {
		for _, u := range x {
			z = append(z, 0.3e-3*math.Cos(150*u)+0.05*v) // invented: a wavy surface, tilted along y
		}
	}
	surface, err := wedge.NewHeightField(x, y, z)
	if err != nil {
		log.Fatal(err)
	}
	path, err := wedge.NewPath(
		[]wedge.Leg{{Speed: 1480, Mode: material.L}, {Speed: 5900, Mode: material.L}},
		[]wedge.Crossing{{Surface: surface}})
	if err != nil {
		log.Fatal(err)
	}
	ray := path.Solve(r3.Vec{X: -4e-3, Z: -20e-3}, r3.Vec{X: 3e-3, Z: 15e-3})
	at := ray.Points[1]
	fmt.Printf("%v, %.3f µs, enters at (%.2f, %.2f, %.2f) mm\n", ray.Status, ray.Time*1e6, at.X*1e3, at.Y*1e3, at.Z*1e3)
	// Output:
	// OK, 16.396 µs, enters at (-2.48, -0.58, 0.25) mm
}

// The points of a surface are measured with a standard deviation of 0.03 mm. The slope of the
// curve through the points has large errors. The slope of the smooth curve has small errors.
func ExampleNewSmoothProfile() {
	const deviation = 0.03e-3
	depth := func(x float64) float64 { return 0.5e-3 * math.Sin(100*x) } // invented
	slope := func(x float64) float64 { return 0.05 * math.Cos(100*x) }
	random := rand.New(rand.NewPCG(1, 2))
	var points []r3.Vec
	for i := range 61 {
		x := float64(i-30) * 1e-3
		points = append(points, r3.Vec{X: x, Z: depth(x) + deviation*random.NormFloat64()})
	}
	through, err := wedge.NewProfile(points)
	if err != nil {
		log.Fatal(err)
	}
	smooth, err := wedge.NewSmoothProfile(points, deviation)
	if err != nil {
		log.Fatal(err)
	}
	// The root mean square of the error of the slope, as an angle.
	off := func(surface wedge.Surface) float64 {
		sum := 0.0
		for _, p := range points {
			u := surface.At(p.X, 0).U
			sum += math.Pow(math.Atan(u.Z/u.X)-math.Atan(slope(p.X)), 2)
		}
		return math.Sqrt(sum/float64(len(points))) * 180 / math.Pi
	}
	fmt.Printf("through the points: slope wrong by %.1f°\n", off(through))
	fmt.Printf("smooth:             slope wrong by %.1f°\n", off(smooth))
	// Output:
	// through the points: slope wrong by 2.4°
	// smooth:             slope wrong by 0.2°
}
