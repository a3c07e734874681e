// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"image/color"
	"strconv"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"github.com/isochron-imaging/isochron/sizing"
)

// Mark is a labelled cross at the peak of an indication, with its contour in dots. Points beyond
// the image are left out.
type Mark struct {
	At      r2.Vec // (x, z) in metres, finite
	Label   string
	Contour []r2.Vec // points of the contour in any order, (x, z) in metres, finite
	Wall    bool     // an echo of the part's own surfaces, in pale grey
}

// Marks returns a mark for each indication, labelled with its number, with the contour at the
// drop that [sizing.Find] was given.
func Marks(found []sizing.Indication) []Mark {
	var marks []Mark
	for _, in := range found {
		m := Mark{At: r2.Vec{X: in.X, Y: in.Z}, Label: strconv.Itoa(in.ID)}
		for _, p := range in.Contour {
			m.Contour = append(m.Contour, r2.Vec{X: p.X, Y: p.Z})
		}
		marks = append(marks, m)
	}
	return marks
}

func (m *Mark) colour() color.Color {
	if m.Wall {
		return wallColour
	}
	return markColour
}

// markKeys returns the keys of the kinds of marks that there are.
func markKeys(marks []Mark) (keys []key) {
	var peak, wall, contour bool
	for _, m := range marks {
		peak, wall, contour = peak || !m.Wall, wall || m.Wall, contour || len(m.Contour) > 0
	}
	if peak {
		keys = append(keys, key{name: "indication", ground: rimColour, sign: func(c draw.Canvas, at vg.Point) { drawCross(c, at, markColour) }})
	}
	if wall {
		keys = append(keys, key{name: "echo of a surface", ground: rimColour, sign: func(c draw.Canvas, at vg.Point) { drawCross(c, at, wallColour) }})
	}
	if contour {
		keys = append(keys, key{name: "contour", ground: rimColour, sign: func(c draw.Canvas, at vg.Point) {
			for x := vg.Length(-8); x <= 8; x += 4 {
				drawDot(c, at.Add(vg.Point{X: x}), markColour)
			}
		}})
	}
	return keys
}

// markPlotter plots marks over an image from one corner to the other.
type markPlotter struct {
	marks    []Mark
	ghosts   []Ghost // for their labels
	from, to r2.Vec
}

// Plot implements plot.Plotter.
func (m markPlotter) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	place := func(q r2.Vec) vg.Point { return vg.Point{X: x(mm(q.X)), Y: y(-mm(q.Y))} }
	// The image may be smaller than the axes.
	area := vg.Rectangle{Min: place(r2.Vec{X: m.from.X, Y: m.to.Y}), Max: place(r2.Vec{X: m.to.X, Y: m.from.Y})}
	var shown []Mark
	var at []vg.Point
	labels := layout{area: area}
	for _, mark := range m.marks {
		if q := place(mark.At); contains(area, q) {
			shown, at = append(shown, mark), append(at, q)
		}
		for _, q := range mark.Contour {
			if dot := place(q); contains(area, dot) {
				drawDot(c, dot, mark.colour())
				labels.taken = append(labels.taken, around(dot, 1, 1))
			}
		}
	}
	for _, q := range at {
		labels.taken = append(labels.taken, around(q, cross+1, cross+1))
	}
	inside := c
	inside.Rectangle = area
	for i, mark := range shown {
		drawCross(inside, at[i], mark.colour())
	}
	for i, mark := range shown {
		labels.draw(c, at[i], mark.Label, mark.colour())
	}
	for _, g := range m.ghosts {
		if at, ok := g.anchor(area, place); ok {
			labels.draw(c, at, g.Label, ghostColour)
		}
	}
}

// draw draws a label beside a point.
func (l *layout) draw(c draw.Canvas, at vg.Point, label string, colour color.Color) {
	label = printable(label)
	if label == "" {
		return
	}
	box := l.place(at, labelStyle.Width(label)/2+2, labelStyle.Font.Size*0.62)
	drawLeader(c, at, box, colour)
	c.SetColor(color.RGBA{A: 200})
	c.Fill(box.Path())
	style := labelStyle
	style.Color = colour
	c.FillText(style, middle(box), label)
}

// anchor returns the middle of the points inside an area of the first line that has one.
func (g *Ghost) anchor(area vg.Rectangle, place func(r2.Vec) vg.Point) (at vg.Point, ok bool) {
	for _, line := range g.Lines {
		var inside []vg.Point
		for _, p := range line {
			if q := place(p); contains(area, q) {
				inside = append(inside, q)
			}
		}
		if len(inside) > 0 {
			return inside[len(inside)/2], true
		}
	}
	return at, false
}

const cross = 5 // half the size of a cross in points

// drawCross draws an upright cross with a dark rim, cut at the edges of c.
func drawCross(c draw.Canvas, at vg.Point, colour color.Color) {
	lines := c.ClipLinesXY(
		[]vg.Point{at.Sub(vg.Point{X: cross}), at.Add(vg.Point{X: cross})},
		[]vg.Point{at.Sub(vg.Point{Y: cross}), at.Add(vg.Point{Y: cross})},
	)
	c.StrokeLines(draw.LineStyle{Color: rimColour, Width: vg.Points(3)}, lines...)
	c.StrokeLines(draw.LineStyle{Color: colour, Width: vg.Points(1.2)}, lines...)
}

// drawLeader draws a line from a label to its cross, if the label does not lie at the first place
// beside the cross.
func drawLeader(c draw.Canvas, at vg.Point, box vg.Rectangle, colour color.Color) {
	end := vg.Point{X: min(max(at.X, box.Min.X), box.Max.X), Y: min(max(at.Y, box.Min.Y), box.Max.Y)}
	if way := end.Sub(at); way.Dot(way) > 12*12 {
		c.StrokeLine2(draw.LineStyle{Color: rimColour, Width: vg.Points(1.8)}, at.X, at.Y, end.X, end.Y)
		c.StrokeLine2(draw.LineStyle{Color: colour, Width: vg.Points(0.6)}, at.X, at.Y, end.X, end.Y)
	}
}

// drawDot draws a dot with a dark rim.
func drawDot(c draw.Canvas, at vg.Point, colour color.Color) {
	c.DrawGlyphNoClip(draw.GlyphStyle{Color: rimColour, Radius: vg.Points(0.9), Shape: draw.CircleGlyph{}}, at)
	c.DrawGlyphNoClip(draw.GlyphStyle{Color: colour, Radius: vg.Points(0.55), Shape: draw.CircleGlyph{}}, at)
}

// layout places labels inside the area, where they do not cover other labels, crosses or contours.
type layout struct {
	area  vg.Rectangle
	taken []vg.Rectangle
}

// place returns the box of a label of half the given width and height beside a point: the
// first of several places that is free, or the one that covers least.
func (l *layout) place(at vg.Point, halfWidth, halfHeight vg.Length) vg.Rectangle {
	var best vg.Rectangle
	least := vg.Length(-1)
	for _, distance := range []vg.Length{cross + 2, 14, 24} {
		for _, way := range []vg.Point{{X: 1, Y: 1}, {X: 1, Y: -1}, {X: -1, Y: 1}, {X: -1, Y: -1}, {X: 1}, {X: -1}, {Y: 1}, {Y: -1}} {
			shift := vg.Point{X: way.X * (halfWidth + distance), Y: way.Y * (halfHeight + distance)}
			box := l.pushed(around(at.Add(shift), halfWidth, halfHeight))
			covered := vg.Length(0)
			for _, other := range l.taken {
				covered += overlap(box, other)
			}
			if least < 0 || covered < least {
				best, least = box, covered
			}
		}
		if least == 0 {
			break
		}
	}
	l.taken = append(l.taken, best)
	return best
}

// pushed returns a box moved into the area.
func (l *layout) pushed(box vg.Rectangle) vg.Rectangle {
	shift := vg.Point{
		X: max(l.area.Min.X-box.Min.X, 0) - max(box.Max.X-l.area.Max.X, 0),
		Y: max(l.area.Min.Y-box.Min.Y, 0) - max(box.Max.Y-l.area.Max.Y, 0),
	}
	return box.Add(shift)
}

// overlap returns the area that two boxes share.
func overlap(a, b vg.Rectangle) vg.Length {
	w := min(a.Max.X, b.Max.X) - max(a.Min.X, b.Min.X)
	h := min(a.Max.Y, b.Max.Y) - max(a.Min.Y, b.Min.Y)
	return max(w, 0) * max(h, 0)
}

func around(at vg.Point, halfWidth, halfHeight vg.Length) vg.Rectangle {
	half := vg.Point{X: halfWidth, Y: halfHeight}
	return vg.Rectangle{Min: at.Sub(half), Max: at.Add(half)}
}

func middle(r vg.Rectangle) vg.Point { return r.Min.Add(r.Max).Scale(0.5) }

func contains(r vg.Rectangle, p vg.Point) bool {
	return p.X >= r.Min.X && p.X <= r.Max.X && p.Y >= r.Min.Y && p.Y <= r.Max.Y
}
