// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Sizes measures a smooth slit of 6 mm in two ways. The contour 6 dB below a peak is the usual
// way. But a smooth slit shows as two spots, its tips, and the contour of a spot is the size of
// the focus. The distance of the tips is the length of the slit.
//
//	go run ./examples/sizes
//
// The length by the tips has its expanded uncertainty of 95 %, from the picture and from the
// set-up. The table is its budget. It has the standard uncertainty u of each input in SI units, and
// its degrees of freedom ν. Then come the change of the length in mm for a unit of the input, and
// the product of both. Most comes from the places of the tips in their spots (methods 1 and 2).
//
// A rough, closed or shadowed tip may not echo. Then no length is measured, and that is no proof
// of a short flaw. The code and the written procedure say how flaws are sized. The capture is a
// simulation of testdata. The uncertainties of the set-up are invented: find yours by calibration.
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

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "sizes.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

// inputs are standard uncertainties of the set-up in SI units.
var inputs = &uncertainty.Inputs{Parameters: map[uncertainty.Parameter]uncertainty.Quantity{
	uncertainty.LongitudinalSpeed: {Uncertainty: 15},
	uncertainty.ProbePosition:     uncertainty.Limits("", 0, 0.5e-3, uncertainty.Rectangular),
	uncertainty.ElementSpacing:    {Uncertainty: 0.001},
	uncertainty.ElementPositions:  {Uncertainty: 0.01e-3},
	uncertainty.TimeZero:          {Uncertainty: 10e-9},
}}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	record, err := npy.ReadFile("testdata/tips_plate2.json", nil)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-10e-3, 10e-3, 6e-3, 20e-3, 0.1e-3)
	if err != nil {
		return err
	}
	image, err := tfm.ImageView(ctx, record.Capture, setup, "L-L", grid, nil)
	if err != nil {
		return err
	}
	// The 6 dB contours of all indications.
	found, err := sizing.Find(image.Envelope(nil), &sizing.Options{Floor: -24})
	if err != nil {
		return err
	}
	for _, in := range found {
		fmt.Fprintf(w, "indication %d at (%4.1f, %4.1f) mm, %5.1f dB: 6 dB length %.1f mm\n", in.ID, in.X*1e3, in.Z*1e3, in.LevelDB, in.Length*1e3)
	}
	// Pairs of spots whose signals fit the tips of one crack.
	flaws, err := tips.Find(ctx, record.Capture, setup, []tips.View{{Name: "L-L", Image: image}}, &tips.Options{Dimension: wedge.Section})
	if err != nil {
		return err
	}
	model, err := uncertainty.NewModel(record.Capture, setup, "L-L", nil)
	if err != nil {
		return err
	}
	levels, err := image.Envelope(nil).Decibels(nil, 0, -30)
	if err != nil {
		return err
	}
	s := &picture.Section{Title: "A slit of 6 mm and a hole of 1.2 mm in steel, view L-L", Levels: levels,
		Reflectors: picture.Reflectors(record.Truth), Marks: picture.Marks(found)}
	for _, f := range flaws {
		var ends [2]*uncertainty.Reading
		for i, end := range f.Ends {
			place, err := model.At(end.At)
			if err != nil {
				return err
			}
			ends[i] = &uncertainty.Reading{Place: place, SNRDB: 20, Grid: 0.05e-3, Method: end.Uncertainty}
		}
		length, err := inputs.Length(ends[0], ends[1])
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "\nby the %s: %v, tilt %.0f°\n%v", f.Method, length.In(1e3, "mm").Result(0.95), f.Tilt*180/math.Pi, length.In(1e3, "mm"))
		s.Lines = append(s.Lines, picture.Line{Name: "flaw between its tips", Points: []r2.Vec{
			{X: f.Ends[0].At.X, Y: f.Ends[0].At.Z}, {X: f.Ends[1].At.X, Y: f.Ends[1].At.Z}}})
	}
	slit := record.Truth.Slits[0]
	fmt.Fprintf(w, "true length %.2f mm\n", math.Hypot(slit.X1-slit.X0, slit.Z1-slit.Z0)*1e3)
	return picture.WriteFile(out, s)
}
