// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Calibration finds the wedge of an array, and its wave speed, from the echo of its face.
//
//	go run ./examples/calibration
//
// The echo of the face of the wedge arrives later at elements that stand higher. The times of all
// pairs give the angle of the wedge, the heights of the elements and, less well, the speed.
//
// The picture: traces of elements that hear themselves, with the face that was found. Then a weld,
// with a wedge that is 1° and 0.5 mm wrong, and with the wedge that was found.
//
// The numbers: angle, first height and speed, with standard uncertainties, for a speed to be found
// and for a speed given. Then the highest places of the images. An error of the instrument's time
// zero shows nowhere: it becomes a height. The capture is a full-wave simulation. A calibration
// does not replace the checks on reference blocks that the applicable code requires.
package main

import (
	"context"
	"flag"
	"fmt"
	"image/color"
	"io"
	"log"
	"math"
	"os"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "calibration.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

const degree = math.Pi / 180

func run(w io.Writer, out string) error {
	ctx := context.Background()
	record, err := npy.ReadFile("testdata/weld32.json", nil)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	// The array is known, but not how it stands.
	elements := make([]r3.Vec, 32)
	for i := range elements {
		elements[i].X = (float64(i) - 15.5) * 0.6e-3
	}
	arrivals, err := calibrate.Pick(record.Capture, nil)
	if err != nil {
		return err
	}
	var found *calibrate.Placement
	for _, speed := range []calibrate.Estimate{{}, {Value: 2340}} { // m/s; none: to be found
		if found, err = calibrate.Face(elements, arrivals, &calibrate.Options{Speed: speed, Tolerance: 0.125e-6}); err != nil {
			return err
		}
		a, h, c := found.Angle, found.Heights[0], found.Speed
		fmt.Fprintf(w, "%.2f ± %.2f° (true 36°), %.2f ± %.2f mm (true 6 mm), %.0f ± %.0f m/s (true 2340 m/s)\n",
			a.Value/degree, a.Uncertainty/degree, h.Value*1e3, h.Uncertainty*1e3, c.Value, c.Uncertainty)
	}
	var traces [][]float32
	face := picture.Line{Name: "face that was found", Colour: color.RGBA{R: 220, A: 255}, Width: 1.5}
	first, end := record.Capture.SampleRange(3e-6, 18e-6)
	for i, height := range found.Heights {
		trace, _ := record.Capture.Between(i, i)
		traces = append(traces, trace[first:end])
		face.Points = append(face.Points, r2.Vec{X: 2 * height.Value / 2340 * 1e6, Y: float64(i)})
	}
	panels := []picture.Picture{&picture.Chart{
		Title: "echoes of the face of the wedge", Lines: append(picture.Waterfall(traces, 3, 0.02, 2), face),
		X: picture.Axis{Label: "time / µs", From: 3, To: 18}, Y: picture.Axis{Label: "element", From: -2, To: 34},
	}}
	grid, err := tfm.NewSection(8e-3, 28e-3, 3e-3, 16e-3, 0.1e-3)
	if err != nil {
		return err
	}
	wrong, err := record.Capture.Array.Place(r3.NewRotation(-degree, r3.Vec{Y: 1}), r3.Vec{Z: -0.5e-3})
	if err != nil {
		return err
	}
	for _, wedge := range []struct {
		title    string
		elements []r3.Vec
	}{{"with a wrong wedge", wrong.Elements}, {"with the wedge that was found", found.Elements()}} {
		capture := *record.Capture
		capture.Array.Elements = wedge.elements
		image, err := tfm.ImageView(ctx, &capture, setup, "T-T", grid, nil)
		if err != nil {
			return err
		}
		envelope := image.Envelope(nil)
		levels, err := envelope.Decibels(nil, 0, -24)
		if err != nil {
			return err
		}
		_, pixel := envelope.Peak()
		fmt.Fprintf(w, "%s: highest at (%.1f, %.1f) mm\n", wedge.title, grid.Point(pixel).X*1e3, grid.Point(pixel).Z*1e3)
		panels = append(panels, &picture.Section{Title: wedge.title, Levels: levels, Reflectors: picture.Reflectors(record.Truth)})
	}
	panels = []picture.Picture{panels[0], &picture.Panels{Columns: 1, Pictures: panels[1:]}}
	return picture.WriteFile(out, &picture.Panels{Title: "The wedge from the echoes of its face", Pictures: panels})
}
