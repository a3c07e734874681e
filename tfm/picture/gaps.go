// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

const (
	gapHeight = 6 // of a mark in points
	gapRoom   = gapHeight + 3
)

// gapColour differs from all colours of the cells.
var gapColour = color.RGBA{R: 10, G: 40, B: 120, A: 255}

var gapKey = key{name: "gap of the scan", ground: color.White, sign: func(c draw.Canvas, at vg.Point) {
	drawGap(c, at.X, at.X, at.Y-gapHeight/2)
}}

// gapPlotter marks ranges along the upper edge of a map, from outside.
type gapPlotter [][2]float64

// Plot implements plot.Plotter.
func (g gapPlotter) Plot(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	for _, ends := range g {
		from, to := max(x(mm(ends[0])), c.Min.X), min(x(mm(ends[1])), c.Max.X)
		if from <= to {
			drawGap(c, from, to, c.Max.Y)
		}
	}
}

// drawGap draws a wedge that points down to a range, which may be a point.
func drawGap(c draw.Canvas, from, to, foot vg.Length) {
	const side = gapHeight / 2
	top := foot + gapHeight
	c.SetColor(gapColour)
	var p vg.Path
	for i, corner := range []vg.Point{{X: from, Y: foot}, {X: from - side, Y: top}, {X: to + side, Y: top}, {X: to, Y: foot}} {
		if i == 0 {
			p.Move(corner)
			continue
		}
		p.Line(corner)
	}
	p.Close()
	c.Fill(p)
}
