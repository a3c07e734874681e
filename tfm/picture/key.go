// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"image/color"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// key explains a line or a sign by a sample of the line or sign and its name.
type key struct {
	name   string
	ground color.Color
	lines  []draw.LineStyle // one over the other, through the middle of the sample
	sign   func(draw.Canvas, vg.Point)
}

const (
	sampleWidth  = 22
	sampleHeight = 11
	keyGap       = 14 // between one key and the next
)

// same reports whether another key explains lines of the same name and style.
func (k key) same(other key) bool {
	return k.name == other.name && slices.EqualFunc(k.lines, other.lines, func(a, b draw.LineStyle) bool {
		return a.Color == b.Color && a.Width == b.Width && slices.Equal(a.Dashes, b.Dashes)
	})
}

func (k key) width() vg.Length { return sampleWidth + 4 + keyStyle.Width(k.name) + keyGap }

// keyRows breaks keys into rows of at most width.
func keyRows(keys []key, width vg.Length) (rows [][]key) {
	used := width
	for _, k := range keys {
		k.name = printable(k.name)
		if used+k.width()-keyGap > width {
			rows = append(rows, nil)
			used = 0
		}
		rows[len(rows)-1] = append(rows[len(rows)-1], k)
		used += k.width()
	}
	return rows
}

const rowHeight = 15

func keysHeight(keys []key, width vg.Length) vg.Length {
	return vg.Length(len(keyRows(keys, width))) * rowHeight
}

// drawKeys draws keys at the top of c, and returns where they end.
func drawKeys(c draw.Canvas, keys []key) (bottom vg.Length) {
	y := c.Max.Y
	for _, row := range keyRows(keys, c.Max.X-c.Min.X) {
		x := c.Min.X
		for _, k := range row {
			k.draw(c, vg.Point{X: x, Y: y - rowHeight/2})
			x += k.width()
		}
		y -= rowHeight
	}
	return y
}

// draw draws a key whose left end is at a point.
func (k key) draw(c draw.Canvas, at vg.Point) {
	sample := vg.Rectangle{Min: at.Sub(vg.Point{Y: sampleHeight / 2}), Max: at.Add(vg.Point{X: sampleWidth, Y: sampleHeight / 2})}
	c.SetColor(k.ground)
	c.Fill(sample.Path())
	for _, l := range k.lines {
		c.StrokeLine2(l, sample.Min.X, at.Y, sample.Max.X, at.Y)
	}
	if k.sign != nil {
		k.sign(c, at.Add(vg.Point{X: sampleWidth / 2}))
	}
	c.FillText(keyStyle, at.Add(vg.Point{X: sampleWidth + 4}), k.name)
}
