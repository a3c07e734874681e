// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Joints plans the beams for T joints with fillet welds and with bevels, and for a lap joint.
//
//	go run ./examples/joints
//
// A smooth lack of fusion shows where a beam strikes the fusion face at a right angle. A face
// along the plate calls for a beam straight down. A bevel calls for an inclined beam: its angle is
// the angle between the bevel and the plate. An upright face has no such beam in the plate. Look
// at it from the other plate or the web, or rely on the echoes of its ends.
//
// The picture: each joint with the beams to the middles of its fusion faces. Faces that no beam
// from the upper surface strikes at a right angle are red.
//
// The numbers: the weld metal; the throat of a fillet weld, a = z/√2 for legs z; for each face the
// angle of the beam, the place where it enters, and its length. By hand, a beam at the angle θ to
// a face at the place x and the depth d enters at x - d·tan θ and has the length d/cos θ.
//
// The wedge for a beam angle differs for longitudinal and transverse waves (material.Refract). A
// real weld face, gap or bead may hinder a beam. All sizes are invented.
package main

import (
	"flag"
	"fmt"
	"image/color"
	"io"
	"log"
	"math"
	"os"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "joints.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

const mm, degree = 1e-3, math.Pi / 180

func run(w io.Writer, out string) error {
	fillet := joint.TeeWeld{Fillet: joint.Fillet{Leg: 7 * mm}}
	bevel := joint.TeeWeld{Fillet: joint.Fillet{Leg: 4 * mm, OtherLeg: 10 * mm}, Angle: 50 * degree, Depth: 6 * mm}
	fmt.Fprintf(w, "throat of a fillet weld with legs of 7 mm: %.2f mm; 7/√2 is %.2f\n", fillet.Throat()/mm, 7/math.Sqrt2)
	var panels []picture.Picture
	for _, weld := range []struct {
		title string
		sizes interface{ Joint() (*joint.Joint, error) }
	}{
		{"T joint, fillet welds", joint.Tee{Flange: 16 * mm, Web: 10 * mm, Left: fillet, Right: fillet}},
		{"T joint, double bevel", joint.Tee{Flange: 16 * mm, Web: 12 * mm, Left: bevel, Right: bevel}},
		{"lap joint", joint.Lap{Upper: 10 * mm, Lower: 12 * mm, Overlap: 30 * mm, Gap: 0.3 * mm, Left: fillet.Fillet, Right: fillet.Fillet}},
	} {
		j, err := weld.sizes.Joint()
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "%s: %.0f mm² of weld metal\n", weld.title, j.Area()/mm/mm)
		outlines, err := j.Outlines(20e-6)
		if err != nil {
			return err
		}
		drawing := &picture.Drawing{Title: weld.title, From: r2.Vec{X: -34 * mm, Y: -2 * mm}, To: r2.Vec{X: 34 * mm, Y: 36 * mm}}
		for _, outline := range outlines.Parts {
			drawing.Lines = append(drawing.Lines, picture.Line{Points: outline, Name: "parent part"})
		}
		for _, outline := range outlines.Metal {
			drawing.Lines = append(drawing.Lines, picture.Line{Points: outline, Colour: grey, Dashed: true, Name: "weld"})
		}
		for _, face := range j.Faces {
			middle := face.At(0.5)
			beam, err := j.Square(face, 0.5, 0)
			inGap := func(g wedge.Interval) bool { return g.Min < beam.Index && beam.Index < g.Max }
			if err != nil || slices.ContainsFunc(j.EntryGaps, inGap) { // no such beam, or no plate where it enters
				fmt.Fprintf(w, "  %-22s no beam\n", face.Name)
				drawing.Lines = append(drawing.Lines, picture.Line{
					Points: []r2.Vec{face.At(0), face.At(1)}, Colour: red, Width: 3, Name: "face without a square beam",
				})
				continue
			}
			depth := middle.Y - j.Top
			fmt.Fprintf(w, "  %-22s %3.0f° from x = %5.1f mm, by hand %5.1f mm; length %.1f mm, by hand %.1f mm\n", face.Name,
				beam.Angle/degree+0, beam.Index/mm, (middle.X-depth*math.Tan(beam.Angle))/mm, beam.Path/mm, depth/math.Cos(beam.Angle)/mm)
			drawing.Lines = append(drawing.Lines, picture.Line{
				Points: []r2.Vec{{X: beam.Index, Y: j.Top}, middle}, Colour: blue, Width: 2, Name: "beam",
			})
		}
		panels = append(panels, drawing)
	}
	return picture.WriteFile(out, &picture.Panels{Title: "Beams at a right angle to the fusion faces", Pictures: panels})
}

var (
	blue = color.RGBA{G: 90, B: 200, A: 255}
	red  = color.RGBA{R: 200, A: 255}
	grey = color.RGBA{R: 110, G: 110, B: 110, A: 255}
)
