// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Butt looks at the lack of fusion of a butt weld from both sides.
//
//	go run ./examples/butt
//
// A smooth fusion face mirrors the beam. Its echo comes back only if the beam strikes it at a
// right angle: from one side directly, from the other side over a skip and from further away.
//
// The picture: a single V with lack of fusion on its right bevel and a notch at its root. From the
// right, close by, only the notch shows. The numbers: the beam from the right that is square to
// the bevel. For each indication, the nearest fusion face and the tilts of both. The spot of a
// corner has the tilt of the focus. The first capture is a full-wave simulation, the others come
// from the ray model. A weld that is seen from one side only may hide a smooth flaw.
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
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "butt.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	const degree, centre = math.Pi / 180, 16e-3 // m, of the weld
	record, err := npy.ReadFile("testdata/weld32.json", nil)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * degree}}
	weld, err := joint.Butt{Thickness: record.Thickness, Gap: 1e-3, RootFace: 1e-3, Left: edge, Right: edge}.Joint()
	if err != nil {
		return err
	}
	weld = weld.Shifted(r2.Vec{X: centre})
	outlines, err := weld.Outlines(20e-6)
	if err != nil {
		return err
	}
	bevel, _ := weld.Face("right bevel")
	square, err := weld.Square(bevel, 0.5, 1) // over one skip
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "square to the right bevel after a skip: %.0f° from x = %.1f mm\n", square.Angle/degree, square.Index*1e3)
	var cracks []synth.Reflector
	for _, s := range record.Truth.Slits {
		from, to := r3.Vec{X: s.X0, Z: s.Z0}, r3.Vec{X: s.X1, Z: s.Z1}
		cracks = append(cracks, synth.Crack{From: from, To: to, Rooted: to.Z == record.Thickness})
	}
	grid, err := tfm.NewSection(4e-3, 28e-3, 0.1e-3, record.Thickness, 0.1e-3)
	if err != nil {
		return err
	}
	panels, legs := []picture.Picture{}, []material.Mode{material.T, material.T}
	for i, exit := range []float64{0, 2 * centre, square.Index} { // where the normals of the arrays meet the surface
		view, corner := wedge.View{Transmit: legs[:1+i/2], Receive: legs[:1+i/2]}, wedge.View{Transmit: legs, Receive: legs[:1]}
		capture := record.Capture
		if i > 0 { // an array on the right: mirrored, and computed
			scene := &synth.Scene{Setup: *setup, Array: capture.Array.Mirrored(exit / 2), Reflectors: cracks, Views: []wedge.View{view, corner}}
			capture, err = synth.Synthesise(context.Background(), scene, synth.Recording{Pairs: fmc.HalfPairs(32), Samples: 2700, SampleRate: 50e6})
			if err != nil {
				return err
			}
		}
		image, err := tfm.ImageView(context.Background(), capture, setup, view.String(), grid, nil)
		if err != nil {
			return err
		}
		found, err := sizing.Find(image.Envelope(nil), &sizing.Options{Floor: -12})
		if err != nil {
			return err
		}
		levels, err := image.Envelope(nil).Decibels(nil, 0, -30)
		if err != nil {
			return err
		}
		title := []string{"from the left", "from the right", "from further right"}[i] + ", " + view.String()
		for _, f := range found {
			n := weld.Nearest(r2.Vec{X: f.X, Y: f.Z})
			fmt.Fprintf(w, "%s: (%.1f, %.1f) mm, %.0f dB, %.1f mm from the %s, tilt %.0f°, tilt of the face %.0f°\n", title,
				f.X*1e3, f.Z*1e3, f.LevelDB, math.Abs(n.Distance)*1e3, n.Face.Name, f.Tilt/degree, 0-n.Inclination/degree)
		}
		panels = append(panels, &picture.Section{
			Title: title, Levels: levels, Weld: outlines.Metal, Reflectors: picture.Reflectors(record.Truth), Marks: picture.Marks(found),
		})
	}
	return picture.WriteFile(out, &picture.Panels{Title: "Lack of fusion from both sides", Pictures: panels})
}
