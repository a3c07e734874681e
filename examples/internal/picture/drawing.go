// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"image/color"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// Drawing is a section through a part in lines, x and z to one scale.
type Drawing struct {
	Title    string
	From, To r2.Vec // corners, (x, z) in metres
	Lines    []Line
}

// Line is a line of a drawing.
type Line struct {
	Points []r2.Vec // (x, z) in metres
	Colour color.Color
	Width  float64 // in points
	Dashed bool
	Name   string // in the legend, if not empty
}

// WritePNG draws d into a file.
func (d *Drawing) WritePNG(name string) error {
	pl := section(d.Title)
	pl.Legend.Top = true
	for _, l := range d.Lines {
		line, err := plotter.NewLine(planar(l.Points))
		if err != nil {
			return err
		}
		line.Color, line.Width = l.Colour, vg.Points(l.Width)
		if l.Dashed {
			line.Dashes = []vg.Length{vg.Points(4), vg.Points(3)}
		}
		pl.Add(line)
		if l.Name != "" {
			pl.Legend.Add(l.Name, line)
		}
	}
	pl.X.Min, pl.X.Max, pl.Y.Min, pl.Y.Max = mm(d.From.X), mm(d.To.X), -mm(d.To.Y), -mm(d.From.Y)
	// What the plot has around its axes decides how large they may be.
	trial := pl.DataCanvas(draw.New(vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi)))).Size()
	aroundX, aroundY := width-trial.X, height-trial.Y
	scale := min(float64(trial.X)/(pl.X.Max-pl.X.Min), float64(trial.Y)/(pl.Y.Max-pl.Y.Min))
	w, h := vg.Length(scale*(pl.X.Max-pl.X.Min))+aroundX, vg.Length(scale*(pl.Y.Max-pl.Y.Min))+aroundY
	canvas := vgimg.NewWith(vgimg.UseWH(w+2*margin, h+2*margin), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))
	pl.Draw(draw.Crop(draw.New(canvas), margin, -margin, margin, -margin))
	return WritePNG(canvas, name)
}
