// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"image/color"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// drawTrace draws the envelope of an A-scan, and each gate at its threshold.
func drawTrace(trace *ascan.Trace, gates []ascan.Gate, fullHeight float64, name string) error {
	chart := picture.Chart{
		Title: "A-scan of a beam of 51°, transverse waves",
		X:     picture.Axis{Label: "sound path / mm", From: 15, To: 30},
		Y:     picture.Axis{Label: "height / % of full height", From: 0, To: 100},
		Lines: []picture.Line{{}},
	}
	for k, v := range trace.Envelope(nil) {
		path := trace.SoundPath(trace.Time(float64(k)))
		chart.Lines[0].Points = append(chart.Lines[0].Points, r2.Vec{X: path * 1e3, Y: 100 * v / fullHeight})
	}
	for i, g := range gates {
		chart.Lines = append(chart.Lines, picture.Line{
			Points: []r2.Vec{{X: g.Start * 1e3, Y: g.Threshold}, {X: g.End * 1e3, Y: g.Threshold}},
			Width:  2.5, Name: "gate " + g.Name, Colour: color.RGBA{R: 200, B: uint8(200 * i), A: 255},
		})
	}
	return picture.WriteFile(name, &chart)
}

// drawSector draws the leg before the first skip, with the true reflectors over it.
func drawSector(record *npy.Record, traces []*ascan.Trace, name string) error {
	grid, err := tfm.NewSection(0, 40e-3, 0, 17e-3, 1e-4)
	if err != nil {
		return err
	}
	image, err := ascan.Image(grid, traces, 1)
	if err != nil {
		return err
	}
	peak, _ := image.Peak()
	levels, err := image.Decibels(nil, peak, -30)
	if err != nil {
		return err
	}
	p := picture.Section{
		Title:   "sector image of a weld, transverse waves, 35° to 72°",
		Caption: "the leg before the first skip; levels relative to the highest echo",
		Levels:  levels,
		Part:    [][]r2.Vec{{{X: 0, Y: record.Thickness}, {X: 40e-3, Y: record.Thickness}}},
	}
	for _, s := range record.Truth.Slits {
		p.Reflectors = append(p.Reflectors, []r2.Vec{{X: s.X0, Y: s.Z0}, {X: s.X1, Y: s.Z1}})
	}
	return picture.WriteFile(name, &p)
}
