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

// The smallest axes. A section that is narrower or flatter gets white ground beside or below it,
// so that there is room for the labels of the axes.
const (
	narrowest = 3 * vg.Centimeter
	flattest  = 4 * vg.Centimeter
)

// slimmest is the smallest width of a body, so that there is room for a title, keys and a caption.
const slimmest = 11 * vg.Centimeter

// bodyWidth returns the width of a body whose axes and bar have a width. It may be larger.
func (r room) bodyWidth(width vg.Length) vg.Length { return max(width, min(slimmest, r.width)) }

// toScale returns the size of a section in which x and z have the same scale. It may lengthen an
// axis for this. beside is the width that is kept free.
func (r room) toScale(pl *plot.Plot, beside vg.Length) (width, height vg.Length) {
	around := r.frameAround(pl, beside)
	across, down := pl.X.Max-pl.X.Min, pl.Y.Max-pl.Y.Min
	scale := r.largestScale(pl, beside, around)
	across = max(across, float64(min(narrowest, r.width-beside-around.X))/scale)
	down = max(down, float64(min(flattest, r.height-around.Y))/scale)
	pl.X.Max, pl.Y.Min = pl.X.Min+across, pl.Y.Max-down
	pl.X.Tick.Marker = ticksAlong(vg.Length(scale * across))
	around = r.frameAround(pl, beside) // with the labels of these axes
	return min(vg.Length(scale*across)+around.X, r.width-beside), vg.Length(scale*down) + around.Y
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
	pl.X.Tick.Marker = ticksAlong(vg.Length(scale * across))
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

// mostTicks is the largest number of steps between the marks of an axis.
const mostTicks = 12

// roundTicks marks an axis at round numbers. most is the largest number of steps, 0 for mostTicks.
type roundTicks struct{ most int }

// ticksAlong returns marks of a horizontal axis, fewer along a short one, so that labels do not
// touch.
func ticksAlong(length vg.Length) roundTicks {
	const fewest = 4 // with fewer steps, no mark may lie within the axis
	return roundTicks{max(fewest, min(mostTicks, int(length/tickStyle.Width("-00.0 "))))}
}

// Ticks implements plot.Ticker.
func (t roundTicks) Ticks(lower, upper float64) []plot.Tick {
	most := float64(t.most)
	if t.most == 0 {
		most = mostTicks
	}
	step := math.Pow(10, math.Floor(math.Log10(upper-lower)))
	for _, share := range []float64{0.1, 0.2, 0.5, 1, 2, 5} {
		if (upper-lower)/(step*share) <= most {
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
