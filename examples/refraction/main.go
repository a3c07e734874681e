// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Refraction calculates the time of flight through a wedge, and draws the rays.
//
//	go run ./examples/refraction
//
// A wave takes the fastest way from an element through the wedge to a point of the part (Fermat).
// This way bends at the surface by Snell's law: sin θ/c is the same on both sides, with the angle
// θ from the normal of the surface and the wave speed c. The straight line is a slower way.
//
// The picture: on the left the rays from all elements to one point. On the right the time of
// flight from one element by each place of the surface. The ray takes the least time.
//
// The numbers: where three rays cross the surface, both angles, and sin θ/c on both sides. Then
// three times: of the ray, the lowest of a fine search over all crossings, and of the straight
// line.
//
// A ray says when a wave arrives, and not how strong it is. Beyond the first critical angle in the
// wedge only transverse waves enter the part. The wedge and its sizes are invented.
package main

import (
	"flag"
	"fmt"
	"image/color"
	"io"
	"log"
	"math"
	"os"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "refraction.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

var blue = color.RGBA{G: 90, B: 200, A: 255}

func run(w io.Writer, out string) error {
	plastic := material.Isotropic{Density: 1050, Longitudinal: 2340, Transverse: 1150} // kg/m³, m/s
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}
	setup, err := wedge.NewPlate(&plastic, steel, 25e-3)
	if err != nil {
		return err
	}
	// The array leans by 36°. Its normal meets the surface at x = 0.
	const angle, height = 36 * math.Pi / 180, 14e-3
	array, err := fmc.LinearArray(16, 1e-3, fmc.Array{Width: 0.9e-3, CentreFrequency: 4e6, Bandwidth: 0.6})
	if err != nil {
		return err
	}
	array, err = array.Place(r3.NewRotation(angle, r3.Vec{Y: 1}), r3.Vec{X: -height * math.Tan(angle), Z: -height})
	if err != nil {
		return err
	}
	path, err := setup.Path([]material.Mode{material.T}) // a transverse wave in the part
	if err != nil {
		return err
	}
	point := r3.Vec{X: 22e-3, Z: 14e-3}
	fmt.Fprintf(w, "first critical angle: asin(%.0f/%.0f) = %.1f°\n", plastic.Longitudinal, steel.Longitudinal,
		180/math.Pi*material.CriticalAngle(plastic.Longitudinal, steel.Longitudinal))

	surface := picture.Line{Points: []r2.Vec{{X: -22e-3}, {X: 26e-3}}, Width: 1.5, Name: "surface of the part"}
	rays := &picture.Drawing{
		Title: "rays from the elements to one point", From: r2.Vec{X: -22e-3, Y: -20e-3}, To: r2.Vec{X: 26e-3, Y: 18e-3},
		Lines: []picture.Line{surface, {Points: picture.Project(array.Elements), Width: 4, Name: "array"}},
	}
	times := &picture.Chart{
		Title: "time of flight from element 7, by the place of the crossing",
		X:     picture.Axis{Label: "x of the crossing / mm", From: -10, To: 22}, Y: picture.Axis{Label: "time / µs", From: 15, To: 17},
	}
	fmt.Fprintln(w, "element  x/mm   θ in wedge, part/°  sin θ/c in wedge, part/(µs/mm)  ray, search, straight/µs")
	for i, element := range array.Elements {
		ray := path.Solve(element, point)
		rays.Lines = append(rays.Lines, picture.Line{Points: picture.Project(ray.Points), Colour: blue, Name: "ray"})
		if i%7 != 0 {
			continue
		}
		over := func(x float64) float64 { // the time over any place of the surface
			place := r3.Vec{X: x}
			return r3.Norm(r3.Sub(place, element))/plastic.Longitudinal + r3.Norm(r3.Sub(point, place))/steel.Transverse
		}
		least, curve := math.Inf(1), []r2.Vec{}
		for x := -10e-3; x <= 22e-3; x += 5e-6 {
			least, curve = min(least, over(x)), append(curve, r2.Vec{X: x * 1e3, Y: over(x) * 1e6})
		}
		straight := element.X - (point.X-element.X)*element.Z/(point.Z-element.Z)
		in, refracted := ray.Angles(0)
		fmt.Fprintf(w, "%7d %5.2f %10.1f %6.1f %17.4f %9.4f %20.3f %.3f %.3f\n", i, ray.Points[1].X*1e3,
			in*180/math.Pi, refracted*180/math.Pi, math.Sin(in)/plastic.Longitudinal*1e3, math.Sin(refracted)/steel.Transverse*1e3,
			ray.Time*1e6, least*1e6, over(straight)*1e6)
		if i == 7 {
			lowest, x := r2.Vec{X: ray.Points[1].X * 1e3, Y: ray.Time * 1e6}, straight*1e3
			times.Lines = []picture.Line{
				{Points: curve, Name: "any way"},
				{Points: []r2.Vec{{X: lowest.X, Y: 15}, lowest}, Colour: blue, Width: 2, Name: "ray"},
				{Points: []r2.Vec{{X: x, Y: 15}, {X: x, Y: over(straight) * 1e6}}, Dashed: true, Name: "straight line"},
			}
		}
	}
	return picture.WriteFile(out, &picture.Panels{Title: "A wave takes the fastest way", Pictures: []picture.Picture{rays, times}})
}
