// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture_test

import (
	"bytes"
	"fmt"
	"image/png"
	"io"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// Draw an invented image of one round echo above a back wall at 12 mm.
func ExampleSection() {
	grid, err := tfm.NewSection(0, 20e-3, 2e-3, 14e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	envelope := tfm.NewImage(grid).Envelope(nil)
	for i := range envelope.Data {
		p := grid.Point(i)
		d := math.Hypot(p.X-9e-3, p.Z-7e-3)
		envelope.Data[i] = float32(math.Exp(-d * d / 1e-6))
	}
	found, err := sizing.Find(envelope, nil)
	if err != nil {
		log.Fatal(err)
	}
	peak, _ := envelope.Peak()
	levels, err := envelope.Decibels(nil, peak, -30)
	if err != nil {
		log.Fatal(err)
	}
	s := picture.Section{
		Title:      "invented echo",
		Caption:    "pixels of 0.1 mm",
		Levels:     levels,
		Part:       [][]r2.Vec{{{X: 0, Y: 12e-3}, {X: 20e-3, Y: 12e-3}}},
		Reflectors: [][]r2.Vec{picture.Circle(9e-3, 7.5e-3, 0.5e-3)},
		Marks:      picture.Marks(found),
	}
	var file bytes.Buffer // or a file
	if err := s.WritePNG(&file); err != nil {
		log.Fatal(err)
	}
	size, err := png.DecodeConfig(&file)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(len(s.Marks), "indication, wider than high:", size.Width > size.Height)
	// Output: 1 indication, wider than high: true
}

// Draw the known reflectors and the surfaces of a stored capture over its image.
func ExampleReflectors() {
	record, err := npy.ReadFile("../../testdata/weld32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(10e-3, 26e-3, 2e-3, 17e-3, 0.2e-3)
	if err != nil {
		log.Fatal(err)
	}
	envelope := tfm.NewImage(grid).Envelope(nil) // of the capture, by a tfm.Plan
	levels, err := envelope.Decibels(nil, 1, -30)
	if err != nil {
		log.Fatal(err)
	}
	s := picture.Section{
		Title: record.Title, Levels: levels,
		Part: picture.Surfaces(setup, grid), Reflectors: picture.Reflectors(record.Truth),
	}
	if err := s.WritePNG(io.Discard); err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d surfaces, the second at z = %.0f mm; %d reflectors\n",
		len(s.Part), s.Part[1][0].Y*1e3, len(s.Reflectors))
	// Output: 2 surfaces, the second at z = 16 mm; 2 reflectors
}
