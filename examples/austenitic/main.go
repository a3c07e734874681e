// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Austenitic shows how the grains of an austenitic weld bend rays. It draws the rays of
// longitudinal waves from an array to a point behind the weld. The grains follow a grain law.
// Beside each ray it draws the straight ray of an isotropic part. It prints the error of the
// straight times.
//
//	go run ./examples/austenitic
//
// The weld is invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"image/color"
	"io"
	"math"
	"text/tabwriter"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/examples/internal/output"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/graded"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

func main() {
	var out string
	command.Command{
		Name: "austenitic",
		About: "Austenitic draws how the grains of a weld bend rays, and prints the errors of " +
			"straight times.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&out, "out", "austenitic.png", "the picture to write, a `FILE.png`")
		},
		Run: func(_ context.Context, w, _ io.Writer) error { return run(w, out) },
	}.Main()
}

// The weld is a V through a plate of 30 mm. Its grains follow Ogilvy's law. The parent metal is a
// steel of the same family with fine grains; it is taken for isotropic.
var (
	parent = material.Isotropic{Density: 7900, Longitudinal: 5790, Transverse: 3100}
	edge   = joint.Edge{Upper: joint.Bevel{Angle: 30 * math.Pi / 180}}
	butt   = joint.Butt{Thickness: 30e-3, Gap: 6e-3, Left: edge, Right: edge}
	target = r3.Vec{X: 14e-3, Z: 24e-3}
)

func run(w io.Writer, out string) error {
	vee, err := butt.Joint()
	if err != nil {
		return err
	}
	law, err := graded.NewGrainLaw(vee, 1, 1)
	if err != nil {
		return err
	}
	metal, err := material.FindCrystal("weld metal X6CrNi18-11")
	if err != nil {
		return err
	}
	curves, err := graded.NewSlownessCurves(metal.Medium)
	if err != nil {
		return err
	}
	weld, err := graded.NewWeld(nil, parent, curves, law, vee)
	if err != nil {
		return err
	}
	d := picture.Drawing{
		Title: "longitudinal waves through an austenitic weld",
		Caption: fmt.Sprintf("rays from the array to a point behind the weld; parent metal %.0f m/s; "+
			"short strokes: the axes of the grains by the law", parent.Longitudinal),
		From: r2.Vec{X: -50e-3, Y: -3e-3}, To: r2.Vec{X: 26e-3, Y: 32e-3},
	}
	drawWeld(&d, vee, law)
	if err := addRays(w, &d, weld); err != nil {
		return err
	}
	if err := output.Write(out, d.WritePNG); err != nil {
		return err
	}
	fmt.Fprintln(w, "\nwrote", out)
	return nil
}

// addRays prints the times of the rays from the elements to the target, and draws the rays.
func addRays(w io.Writer, d *picture.Drawing, weld *graded.Part) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "element/mm\ttime/µs\tstraight/µs\terror/ns\tlargest distance/mm\t")
	names := [2]string{"ray through the grains", "straight ray"} // for the first rays only
	for x := -46.0; x <= -18; x += 4 {
		element := r3.Vec{X: x * 1e-3}
		ray, err := weld.Ray(graded.QuasiLongitudinal, element, target, nil)
		if err != nil {
			return err
		}
		if ray.Status != wedge.OK {
			fmt.Fprintf(t, "%.0f\t%v\t\t\t\t\n", x, ray.Status)
			continue
		}
		straight := r3.Norm(r3.Sub(target, element)) / parent.Longitudinal
		fmt.Fprintf(t, "%.0f\t%.3f\t%.3f\t%.0f\t%.2f\t\n", x, ray.Time*1e6, straight*1e6,
			(straight-ray.Time)*1e9, farthest(ray.Points)*1e3)
		d.Lines = append(d.Lines,
			picture.Line{Points: planar(ray.Points), Colour: rayColour, Width: 1.2, Name: names[0]},
			picture.Line{Points: planar([]r3.Vec{element, target}), Colour: straightColour, Width: 0.8,
				Dashed: true, Name: names[1]})
		names = [2]string{}
	}
	d.Lines = append(d.Lines, picture.Line{Points: picture.Circle(target.X, target.Z, 0.4e-3),
		Colour: color.Black, Width: 1.5})
	return t.Flush()
}

var (
	rayColour      = color.RGBA{R: 20, G: 60, B: 140, A: 255}
	straightColour = color.RGBA{R: 190, G: 60, B: 30, A: 255}
	grainColour    = color.RGBA{R: 170, G: 170, B: 170, A: 255}
)

// drawWeld draws the plate, the fusion faces and the axes of the grains.
func drawWeld(d *picture.Drawing, vee *joint.Joint, grains graded.Texture) {
	add := func(width float64, c color.Color, points ...r2.Vec) {
		d.Lines = append(d.Lines, picture.Line{Points: points, Colour: c, Width: width})
	}
	for _, z := range []float64{vee.Top, vee.Top + vee.Thickness} {
		add(1.2, color.Black, r2.Vec{X: d.From.X, Y: z}, r2.Vec{X: d.To.X, Y: z})
	}
	for _, face := range vee.Faces {
		add(1.2, color.Black, face.At(0), face.At(1))
	}
	for z := 1.5e-3; z < vee.Thickness; z += 2e-3 {
		for x := -20e-3; x <= 20e-3; x += 2e-3 {
			at := r2.Vec{X: x, Y: z}
			if vee.Zone(at, 0) != joint.WeldMetal {
				continue
			}
			sin, cos := math.Sincos(grains.At(r3.Vec{X: x, Z: z}).Angle)
			stroke := r2.Vec{X: 0.6e-3 * cos, Y: 0.6e-3 * sin}
			add(0.7, grainColour, r2.Sub(at, stroke), r2.Add(at, stroke))
		}
	}
}

// farthest returns the largest distance of a ray from the straight line between its ends, in m.
func farthest(points []r3.Vec) float64 {
	from, most := points[0], 0.0
	along := r3.Unit(r3.Sub(points[len(points)-1], from))
	for _, p := range points {
		most = max(most, r3.Norm(r3.Cross(along, r3.Sub(p, from))))
	}
	return most
}

// planar returns the points in the coordinates of the section.
func planar(points []r3.Vec) []r2.Vec {
	flat := make([]r2.Vec, len(points))
	for i, p := range points {
		flat[i] = r2.Vec{X: p.X, Y: p.Z}
	}
	return flat
}
