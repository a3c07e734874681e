// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Views shows one crack in three views: directly, over one skip and over two skips.
//
//	go run ./examples/views
//
// A wave that skips off the back wall reaches a reflector from below. A view names the waves of an
// image. T-T goes there and back directly, TT-T skips on the way there, TT-TT skips both ways.
// Each view has its own times, so the same traces give another image.
//
// The picture: a vertical crack that is open to the back wall, and rays of one element. T-T shows
// the corner of crack and wall, and weakly the tip. TT-T shows the face, which mirrors the beam
// back to the array after the skip. TT-TT shows the corner, and the tip from below.
//
// The numbers: the times to the middle of the crack. A wall at the depth D is a mirror. So a skip
// to the depth z takes as long as the straight way to the depth 2D - z. Then the highest places.
//
// Levels of views do not compare: each path loses another share. All parts are invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"os"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "views.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	const thickness, angle, height = 20e-3, 36 * math.Pi / 180, 14e-3                  // of the plate and of the wedge
	plastic := material.Isotropic{Density: 1050, Longitudinal: 2340, Transverse: 1150} // kg/m³, m/s
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}
	setup, err := wedge.NewPlate(&plastic, steel, thickness)
	if err != nil {
		return err
	}
	array, err := fmc.LinearArray(24, 0.8e-3, fmc.Array{Width: 0.7e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		return err
	}
	// The array leans by 36°. Its normal meets the surface at x = 0.
	array, err = array.Place(r3.NewRotation(angle, r3.Vec{Y: 1}), r3.Vec{X: -height * math.Tan(angle), Z: -height})
	if err != nil {
		return err
	}
	tip, root := r3.Vec{X: 24e-3, Z: 14e-3}, r3.Vec{X: 24e-3, Z: thickness}
	scene := &synth.Scene{Setup: *setup, Array: array, Reflectors: []synth.Reflector{synth.Crack{From: tip, To: root, Rooted: true}}}
	names := []string{"T-T", "TT-T", "TT-TT"}
	for _, name := range names {
		view, err := wedge.ParseView(name)
		if err != nil {
			return err
		}
		scene.Views = append(scene.Views, view)
	}
	capture, err := synth.Synthesise(ctx, scene, synth.Recording{Samples: 1900, SampleRate: 50e6, FirstSample: 10e-6})
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(8e-3, 32e-3, 0.1e-3, thickness, 0.1e-3)
	if err != nil {
		return err
	}
	middle := r3.Vec{X: tip.X, Z: (tip.Z + root.Z) / 2} // of the crack
	var panels []picture.Picture
	for i, name := range names {
		image, err := tfm.ImageView(ctx, capture, setup, name, grid, nil)
		if err != nil {
			return err
		}
		levels, err := image.Envelope(nil).Decibels(nil, 0, -36)
		if err != nil {
			return err
		}
		section := &picture.Section{Title: name, Levels: levels, Reflectors: [][]r2.Vec{picture.Project([]r3.Vec{tip, root})}}
		transmit, receive, err := setup.Paths(scene.Views[i])
		if err != nil {
			return err
		}
		there, back := transmit.Solve(array.Elements[12], middle), receive.Solve(array.Elements[12], middle)
		for _, ray := range []wedge.Ray{there, back} {
			section.Lines = append(section.Lines, picture.Line{Points: picture.Project(ray.Points), Name: "rays of element 12"})
		}
		_, peak := image.Envelope(nil).Peak()
		fmt.Fprintf(w, "%-5s  there %.3f µs, back %.3f µs; highest at (%.1f, %.1f) mm\n", name, there.Time*1e6, back.Time*1e6,
			grid.Point(peak).X*1e3, grid.Point(peak).Z*1e3)
		panels = append(panels, section)
	}
	direct, err := setup.Path([]material.Mode{material.T})
	if err != nil {
		return err
	}
	ray := direct.Solve(array.Elements[12], r3.Vec{X: middle.X, Z: 2*thickness - middle.Z})
	fmt.Fprintf(w, "straight on to the mirror image of the middle of the crack: %.3f µs\n", ray.Time*1e6)
	return picture.WriteFile(out, &picture.Panels{Title: "One crack in three views", Pictures: panels})
}
