// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/tfm/picture"
)

// Colours of bars and lines.
var (
	sumColour   = color.RGBA{0x9e, 0xc3, 0xe6, 0xff}
	frameColour = color.RGBA{0x1f, 0x5f, 0xa8, 0xff}
	slabColour  = color.RGBA{0xd0, 0x6a, 0x1f, 0xff}
)

// bars returns a picture of the rates of one core: a panel for each case, a bar for each kernel.
func bars(kernels []*kernel, cases string) picture.Picture {
	panels := &picture.Panels{Title: "Samples summed a second on one core", Caption: machine() + "\n" + bound(kernels[0], cases)}
	for name := range strings.SplitSeq(cases, ",") {
		panels.Pictures = append(panels.Pictures, barsOf(kernels, name))
	}
	return panels
}

// barsOf returns the panel of a case.
func barsOf(kernels []*kernel, name string) *picture.Chart {
	chart := &picture.Chart{Title: "case " + name}
	var legend []string
	highest, at := 0.0, 0.0
	for _, k := range kernels {
		for _, precision := range precisions {
			at++
			image, _ := k.of(key{name, toImage, precision, false})
			frame, _ := k.of(key{name, toLevel, precision, false})
			sum := image.Units / image.sum / 1e9
			chart.Lines = append(chart.Lines,
				bar(at, sum, 26, sumColour, "sum alone"),
				bar(at, frame.rate()/1e9, 14, frameColour, "whole frame, samples to levels in dB"))
			legend = append(legend, fmt.Sprintf("%.0f: %s, %s, %.1f", at, k.Kernel, precision, sum))
			highest = max(highest, sum)
		}
	}
	chart.X = picture.Axis{Label: "kernel and precision", From: 0, To: at + 1}
	chart.Y = picture.Axis{Label: "G samples/s", To: 1.1 * highest}
	chart.Caption = strings.Join(legend, " · ")
	return chart
}

// bar returns a bar from 0 to a height.
func bar(at, height, width float64, colour color.Color, name string) picture.Line {
	return picture.Line{Points: []r2.Vec{{X: at}, {X: at, Y: math.Max(height, 1e-9)}}, Width: width, Colour: colour, Name: name}
}

// mark returns a square mark.
func mark(x, y float64, colour color.Color, name string) picture.Line {
	const half = 0.012
	return picture.Line{Points: []r2.Vec{{X: x - half, Y: y}, {X: x + half, Y: y}}, Width: 8, Colour: colour, Name: name}
}
