// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package picture draws images of a part: levels in decibels in a perceptually
// uniform colour map, axes in millimetres to one scale, with the outline of the
// part, known reflectors and numbered indications over them.
package picture

import (
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/palette"
	"gonum.org/v1/plot/palette/moreland"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"github.com/isochron-imaging/isochron/tfm"
)

// Picture is what is drawn of one view. Points are (x, z) in metres.
type Picture struct {
	Title    string
	Levels   *tfm.Decibels
	Outlines [][]r2.Vec // surfaces of the part
	Truth    [][]r2.Vec // reflectors that are known to be there
	Marks    []Mark
}

// Mark is a numbered cross at the peak of an indication.
type Mark struct {
	At    r2.Vec
	Label string
}

// The colours over the map, which runs from black through red to white.
var (
	outlineColour = color.RGBA{R: 150, G: 160, B: 170, A: 255}
	truthColour   = color.RGBA{R: 90, G: 220, B: 255, A: 255}
	markColour    = color.RGBA{R: 120, G: 255, B: 140, A: 255}
)

const (
	width    = 24 * vg.Centimeter // of the largest picture
	height   = 17 * vg.Centimeter
	barWidth = 2.8 * vg.Centimeter // of the strip that the colour bar stands in
	margin   = 0.25 * vg.Centimeter
	dpi      = 110

	narrowest = 9 * vg.Centimeter // of the axes
	flattest  = 4 * vg.Centimeter
)

// levelMap returns the map of levels from floor (dB) to 0.
func levelMap(floor float64) palette.ColorMap {
	m := moreland.BlackBody()
	m.SetMin(floor)
	m.SetMax(0)
	return m
}

// WritePNG draws p into a file.
func (p *Picture) WritePNG(name string) error {
	main, err := p.plot()
	if err != nil {
		return err
	}
	w, h := p.size(main)
	canvas := vgimg.NewWith(vgimg.UseWH(w, h), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))
	whole := draw.New(canvas)
	left := draw.Crop(whole, margin, -barWidth, margin, -margin)
	main.Draw(left)
	// The bar stands beside the map, as high as it.
	area := main.DataCanvas(left)
	p.bar().Draw(draw.Crop(whole, w-barWidth+2*margin, -margin, area.Min.Y-whole.Min.Y, area.Max.Y-whole.Max.Y))
	return WritePNG(canvas, name)
}

// section returns an empty plot in x and -z, in mm.
func section(title string) *plot.Plot {
	pl := plot.New()
	pl.Title.Text = title
	pl.Title.Padding = vg.Points(6)
	pl.X.Label.Text = "x / mm"
	pl.X.Tick.Marker = roundTicks{}
	pl.Y.Label.Text = "depth z / mm"
	pl.Y.Tick.Marker = depthTicks{}
	return pl
}

// plot returns the map with all that is drawn over it. Its second axis is -z, so
// that depth runs down; the labels show z.
func (p *Picture) plot() (*plot.Plot, error) {
	g := p.Levels.Grid
	x0, x1 := mm(g.X(0)-g.Step.X/2), mm(g.X(g.Cols-1)+g.Step.X/2)
	z0, z1 := mm(g.Y(0)-g.Step.Z/2), mm(g.Y(g.Rows-1)+g.Step.Z/2)
	pl := section(p.Title)
	levels := *p.Levels
	levels.Palette = levelMap(levels.Floor).Palette(256).Colors()
	pl.Add(plotter.NewImage(&levels, x0, -z1, x1, -z0))
	for _, lines := range []struct {
		points [][]r2.Vec
		colour color.Color
		width  vg.Length
	}{
		{p.Outlines, outlineColour, vg.Points(1)},
		{p.Truth, color.Black, vg.Points(2)}, // a dark rim, for the bright parts of the map
		{p.Truth, truthColour, vg.Points(0.75)},
	} {
		for _, points := range lines.points {
			line, err := plotter.NewLine(planar(points))
			if err != nil {
				return nil, err
			}
			line.Color, line.Width = lines.colour, lines.width
			pl.Add(line)
		}
	}
	if err := addMarks(pl, p.Marks); err != nil {
		return nil, err
	}
	pl.X.Min, pl.X.Max, pl.Y.Min, pl.Y.Max = x0, x1, -z1, -z0
	return pl, nil
}

func addMarks(pl *plot.Plot, marks []Mark) error {
	if len(marks) == 0 {
		return nil
	}
	var at plotter.XYs
	var names []string
	for _, m := range marks {
		at = append(at, plotter.XY{X: mm(m.At.X), Y: -mm(m.At.Y)})
		names = append(names, m.Label)
	}
	// A dark rim keeps both readable on the bright parts of the map.
	for _, layer := range []struct {
		colour color.Color
		width  vg.Length
		shifts []vg.Point
	}{
		{color.Black, vg.Points(3), []vg.Point{{X: -1}, {X: 1}, {Y: -1}, {Y: 1}, {X: -1, Y: -1}, {X: 1, Y: 1}, {X: -1, Y: 1}, {X: 1, Y: -1}}},
		{markColour, vg.Points(1.2), []vg.Point{{}}},
	} {
		pl.Add(crosses{at: at, colour: layer.colour, width: layer.width})
		for _, shift := range layer.shifts {
			labels, err := plotter.NewLabels(plotter.XYLabels{XYs: at, Labels: names})
			if err != nil {
				return err
			}
			labels.Offset = vg.Point{X: vg.Points(6) + shift.X, Y: vg.Points(4) + shift.Y}
			for i := range labels.TextStyle {
				labels.TextStyle[i] = text.Style{
					Color:   layer.colour,
					Font:    font.From(plot.DefaultFont, 12),
					Handler: plot.DefaultTextHandler,
				}
			}
			pl.Add(labels)
		}
	}
	return nil
}

// crosses is a plotter of upright crosses.
type crosses struct {
	at     plotter.XYs
	colour color.Color
	width  vg.Length
}

// Plot implements plot.Plotter.
func (m crosses) Plot(c draw.Canvas, p *plot.Plot) {
	const arm = 5 // points
	x, y := p.Transforms(&c)
	style := draw.LineStyle{Color: m.colour, Width: m.width}
	for _, q := range m.at {
		at := vg.Point{X: x(q.X), Y: y(q.Y)}
		c.StrokeLine2(style, at.X-arm, at.Y, at.X+arm, at.Y)
		c.StrokeLine2(style, at.X, at.Y-arm, at.X, at.Y+arm)
	}
}

// bar returns the colour bar.
func (p *Picture) bar() *plot.Plot {
	pl := plot.New()
	pl.HideX()
	pl.X.Padding, pl.Y.Padding = 0, 0
	pl.Y.Label.Text = "level / dB"
	pl.Y.Tick.Marker = roundTicks{}
	pl.Add(&plotter.ColorBar{ColorMap: levelMap(p.Levels.Floor), Vertical: true})
	return pl
}

// size returns the size of the whole picture that gives x and z one scale, for
// which it may lengthen an axis of main.
func (p *Picture) size(main *plot.Plot) (w, h vg.Length) {
	frame := func() vg.Point { // what the picture has around the axes
		trial := draw.New(vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi)))
		area := main.DataCanvas(draw.Crop(trial, margin, -barWidth, margin, -margin)).Size()
		return vg.Point{X: width - area.X, Y: height - area.Y}
	}
	around := frame()
	across, down := main.X.Max-main.X.Min, main.Y.Max-main.Y.Min
	scale := math.Min(float64(width-around.X)/across, float64(height-around.Y)/down)
	// A map that is very narrow or very flat gets white ground beside or below it,
	// which keeps room for the labels.
	across = max(across, float64(narrowest)/scale)
	down = max(down, float64(flattest)/scale)
	main.X.Max, main.Y.Min = main.X.Min+across, main.Y.Max-down
	around = frame() // with the labels of the longer axes
	return vg.Length(scale*across) + around.X, vg.Length(scale*down) + around.Y
}

// roundTicks marks an axis at round numbers, six to a dozen of them.
type roundTicks struct{}

// Ticks implements plot.Ticker.
func (roundTicks) Ticks(lower, upper float64) []plot.Tick {
	step := math.Pow(10, math.Floor(math.Log10(upper-lower)))
	for _, share := range []float64{0.1, 0.2, 0.5} {
		if (upper-lower)/(step*share) <= 12 {
			step *= share
			break
		}
	}
	var ticks []plot.Tick
	for i := math.Ceil(lower / step); i*step <= upper; i++ {
		ticks = append(ticks, plot.Tick{Value: i * step, Label: strconv.FormatFloat(i*step, 'g', 4, 64)})
	}
	return ticks
}

// depthTicks labels an axis of -z with z.
type depthTicks struct{}

// Ticks implements plot.Ticker.
func (depthTicks) Ticks(lower, upper float64) []plot.Tick {
	ticks := roundTicks{}.Ticks(-upper, -lower)
	for i := range ticks {
		ticks[i].Value = -ticks[i].Value
	}
	return ticks
}

func mm(metres float64) float64 { return metres * 1e3 }

// planar returns points in the axes of the plot.
func planar(points []r2.Vec) plotter.XYs {
	xys := make(plotter.XYs, len(points))
	for i, q := range points {
		xys[i] = plotter.XY{X: mm(q.X), Y: -mm(q.Y)}
	}
	return xys
}

// Circle returns a closed circle of 64 sides about (x, z), all in metres.
func Circle(x, z, radius float64) []r2.Vec {
	const sides = 64
	points := make([]r2.Vec, sides+1)
	for i := range points {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / sides)
		points[i] = r2.Vec{X: x + radius*cos, Y: z + radius*sin}
	}
	return points
}
