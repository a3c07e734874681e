// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"math"
	"strconv"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"
)

// room is the size of the largest body of a picture: its axes, their labels and its bar.
type room struct{ width, height vg.Length }

// wholeRoom is the room of a picture that stands alone.
var wholeRoom = room{24 * vg.Centimeter, 17 * vg.Centimeter}

// newPlot returns an empty plot in the fonts of this package.
func newPlot() *plot.Plot {
	pl := plot.New()
	for _, axis := range []*plot.Axis{&pl.X, &pl.Y} {
		axis.Tick.Label.Font = tickStyle.Font
		axis.Label.TextStyle.Font = axisStyle.Font
		axis.Tick.Marker = roundTicks{}
	}
	return pl
}

// newSection returns an empty plot in x and -z, in mm, from one corner to the other.
func newSection(from, to r2.Vec) *plot.Plot {
	pl := newPlot()
	pl.X.Label.Text = "x / mm"
	pl.Y.Label.Text = "depth z / mm"
	pl.Y.Tick.Marker = depthTicks{}
	pl.X.Min, pl.X.Max, pl.Y.Min, pl.Y.Max = mm(from.X), mm(to.X), -mm(to.Y), -mm(from.Y)
	return pl
}

// The smallest axes. A section that is very narrow or very flat gets white ground beside or
// below it, so that there is room for the labels.
const (
	narrowest = 9 * vg.Centimeter
	flattest  = 4 * vg.Centimeter
)

// toScale returns the size of a section in which x and z have the same scale. It may lengthen an
// axis for this. beside is the width that is kept free.
func (r room) toScale(pl *plot.Plot, beside vg.Length) (width, height vg.Length) {
	around := r.frameAround(pl, beside)
	across, down := pl.X.Max-pl.X.Min, pl.Y.Max-pl.Y.Min
	scale := r.largestScale(pl, beside, around)
	across = max(across, float64(min(narrowest, r.width-beside-around.X))/scale)
	down = max(down, float64(min(flattest, r.height-around.Y))/scale)
	pl.X.Max, pl.Y.Min = pl.X.Min+across, pl.Y.Max-down
	around = r.frameAround(pl, beside) // with the labels of the longer axes
	return vg.Length(scale*across) + around.X, vg.Length(scale*down) + around.Y
}

// stretched returns the size of a section in which the vertical scale may be larger than the
// horizontal scale, by the factor stretch, so that the section of a long scan is not too flat.
func (r room) stretched(pl *plot.Plot, beside vg.Length) (width, height vg.Length, stretch float64) {
	around := r.frameAround(pl, beside)
	across, down := pl.X.Max-pl.X.Min, pl.Y.Max-pl.Y.Min
	scale := r.largestScale(pl, beside, around)
	stretch = max(1, float64(min(flattest, r.height-around.Y))/(scale*down))
	if wider := float64(min(narrowest, r.width-beside-around.X)) / (scale * across); wider > 1 {
		pl.X.Max = pl.X.Min + wider*across
		across *= wider
	}
	return vg.Length(scale*across) + around.X, vg.Length(scale*stretch*down) + around.Y, stretch
}

// frameAround returns what a plot has around its axes, in the largest body.
func (r room) frameAround(pl *plot.Plot, beside vg.Length) vg.Point {
	area := dataArea(pl, draw.NewCanvas(new(recorder.Canvas), r.width-beside, r.height)).Size()
	return vg.Point{X: r.width - beside - area.X, Y: r.height - area.Y}
}

// largestScale returns the largest scale, in points for a unit of the axes, that fits the picture.
func (r room) largestScale(pl *plot.Plot, beside vg.Length, around vg.Point) float64 {
	return min(float64(r.width-beside-around.X)/(pl.X.Max-pl.X.Min), float64(r.height-around.Y)/(pl.Y.Max-pl.Y.Min))
}

// dataArea returns the part of c in which a plot draws its data.
func dataArea(pl *plot.Plot, c draw.Canvas) vg.Rectangle { return pl.DataCanvas(c).Rectangle }

// roundTicks marks an axis at round numbers, five to a dozen of them.
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
	first, last := math.Ceil(lower/step-1e-9), math.Floor(upper/step+1e-9)
	for i := range int(last-first) + 1 {
		value := (first + float64(i)) * step
		ticks = append(ticks, plot.Tick{Value: min(max(value, lower), upper), Label: strconv.FormatFloat(value+0, 'g', 6, 64)})
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

// planar returns points in the axes of a section.
func planar(points []r2.Vec) plotter.XYs {
	xys := make(plotter.XYs, len(points))
	for i, q := range points {
		xys[i] = plotter.XY{X: mm(q.X), Y: -mm(q.Y)}
	}
	return xys
}
