// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	pixels "image/draw"
	"io"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Map is a quantity in the cells of a surface, such as the thickness of a wall over a scan, or the
// levels of a projection ([LevelMap]). Both axes have the same scale, unless Stretch is set.
type Map struct {
	Title   string
	Caption string // one or more lines below the axes
	// From and To are the outer corners of the cells in metres, finite and in ascending order: X
	// runs to the right, Y down.
	From, To     r2.Vec
	Across, Down string // labels of the axes, whose numbers are in mm, such as "s / mm"
	Columns      int    // 1 to 2000
	Rows         int    // 1 to 2000
	// Values are the values of the cells, row by row from the top, in the unit of Quantity. NaN
	// stands for a cell without a value.
	Values   []float64
	Quantity string // the quantity and its unit, beside the colour bar, such as "thickness / mm"
	// Low and High are the values of the darkest and of the brightest colour, finite and in
	// ascending order.
	Low, High float64
	// Reasons names why cells have no value, at most 6. Reason holds for each cell an index of
	// Reasons, which counts if its value is NaN. Nil stands for one reason. Each reason has a
	// colour that the colour bar does not have.
	Reasons    []string
	Reason     []uint8
	Weld       [][]r2.Vec // edges of a weld, in dashed grey
	Reflectors [][]r2.Vec // outlines that are known, such as those of pits, in blue
	Marks      []Mark     // at points of the map
	// Gaps are the ends of ranges along X in metres where nothing was measured, in ascending
	// order. Each has a mark above the map that is never too narrow to be seen.
	Gaps [][2]float64
	// Stretch draws a map that is long and flat with a larger vertical scale. The caption then
	// says so.
	Stretch bool
}

// reasonColours are the colours of cells without a value: grey and blue, which the scale from
// black through red and yellow to white does not contain.
var reasonColours = [...]color.RGBA{
	blankColour, {R: 120, G: 165, B: 225, A: 255}, {R: 45, G: 85, B: 175, A: 255},
	{R: 165, G: 175, B: 190, A: 255}, {R: 60, G: 150, B: 170, A: 255}, {R: 150, G: 130, B: 205, A: 255},
}

// WritePNG writes m as a PNG picture.
func (m *Map) WritePNG(w io.Writer) error { return writePNG(w, m, wholeRoom) }

// WriteSVG writes m as an SVG picture.
func (m *Map) WriteSVG(w io.Writer) error { return writeSVG(w, m, wholeRoom) }

// validate reports the first field that cannot be drawn.
func (m *Map) validate() error {
	if err := checkRange("X of From and To", m.From.X, m.To.X); err != nil {
		return err
	}
	if err := checkRange("Y of From and To", m.From.Y, m.To.Y); err != nil {
		return err
	}
	cells := m.Columns * m.Rows
	switch {
	case m.Columns < 1 || m.Columns > sharpest || m.Rows < 1 || m.Rows > sharpest:
		return fmt.Errorf("picture: map of %d columns and %d rows: want 1 to %d of each", m.Columns, m.Rows, sharpest)
	case len(m.Values) != cells:
		return fmt.Errorf("picture: Values of length %d: want %d, one a cell", len(m.Values), cells)
	case !(m.Low < m.High) || !number.Finite(m.High-m.Low):
		return fmt.Errorf("picture: colours from Low %v to High %v: want finite values in ascending order", m.Low, m.High)
	case len(m.Reasons) > len(reasonColours):
		return fmt.Errorf("picture: %d Reasons: want at most %d", len(m.Reasons), len(reasonColours))
	case m.Reason != nil && len(m.Reason) != cells:
		return fmt.Errorf("picture: Reason of length %d: want %d, one a cell, or none", len(m.Reason), cells)
	}
	for i, v := range m.Values {
		switch {
		case math.IsInf(v, 0):
			return fmt.Errorf("picture: Values[%d] %v: want a finite value, or NaN", i, v)
		case math.IsNaN(v) && int(m.reason(i)) >= max(len(m.Reasons), 1):
			return fmt.Errorf("picture: Reason[%d] %d: want an index of %d Reasons", i, m.Reason[i], len(m.Reasons))
		}
	}
	if err := errors.Join(checkPolylines("Weld", m.Weld), checkPolylines("Reflectors", m.Reflectors)); err != nil {
		return err
	}
	for i, g := range m.Gaps {
		if err := checkRange(fmt.Sprintf("Gaps[%d]", i), g[0], g[1]); err != nil {
			return err
		}
	}
	for i, mark := range m.Marks {
		if err := checkPoints(fmt.Sprintf("Marks[%d].At", i), mark.At); err != nil {
			return err
		}
		if len(mark.Contour) > 0 {
			return errors.New("picture: mark with a contour on a map: want none")
		}
	}
	return nil
}

// reason returns why a cell has no value.
func (m *Map) reason(cell int) uint8 {
	if m.Reason == nil {
		return 0
	}
	return m.Reason[cell]
}

func (m *Map) figure(r room) (*figure, error) {
	if err := m.validate(); err != nil {
		return nil, err
	}
	pl := newSection(m.From, m.To)
	pl.X.Label.Text, pl.Y.Label.Text = m.Across, m.Down
	cells, used := m.coloured(usualPalette(), max(1, sharpest/max(m.Columns, m.Rows)))
	pl.Add(plotter.NewImage(cells, mm(m.From.X), -mm(m.To.Y), mm(m.To.X), -mm(m.From.Y)))
	var keys []key
	for i, has := range used {
		if has && len(m.Reasons) > 0 {
			keys = append(keys, key{name: m.Reasons[i], ground: reasonColours[i]})
		} else if has {
			keys = append(keys, key{name: "no data", ground: reasonColours[i]})
		}
	}
	keys = append(keys, overlay{"weld", m.Weld, rimmed(partColour, 0.9, vg.Points(5), vg.Points(3))}.add(pl)...)
	keys = append(keys, overlay{"known reflector", m.Reflectors, rimmed(reflectorColour, 1.4)}.add(pl)...)
	pl.X.Min, pl.X.Max, pl.Y.Min, pl.Y.Max = mm(m.From.X), mm(m.To.X), -mm(m.To.Y), -mm(m.From.Y)
	width, height, caption := m.size(r, pl)
	pl.Add(markPlotter{m.Marks, nil, m.From, m.To})
	above := vg.Length(0)
	if len(m.Gaps) > 0 {
		pl.Add(gapPlotter(m.Gaps))
		keys = append(keys, gapKey)
		above = gapRoom
	}
	f := &figure{title: m.Title, caption: caption, keys: keys, width: r.bodyWidth(width + barRoom), height: height + above}
	f.body = func(c draw.Canvas) {
		main := draw.Crop(leftOf(c, 0, width), 0, 0, 0, -above)
		pl.Draw(main)
		drawBar(leftOf(c, width+barGap, barWidth), m.bar(usualPalette()), dataArea(pl, main))
	}
	return f, nil
}

// size returns the size of the map and its bar, and the caption.
func (m *Map) size(r room, pl *plot.Plot) (width, height vg.Length, caption string) {
	if !m.Stretch {
		width, height = r.toScale(pl, barRoom)
		return width, height, m.Caption
	}
	width, height, stretch := r.stretched(pl, barRoom)
	if stretch > 1 {
		return width, height, fmt.Sprintf("%s The vertical scale is %.1f times the horizontal scale.", m.Caption, stretch)
	}
	return width, height, m.Caption
}

// coloured returns the cells in their colours, and which reasons occur. A cell is a square of
// pixels with the given side, because the picture blurs the edges of pixels.
func (m *Map) coloured(palette color.Palette, side int) (*image.RGBA, [len(reasonColours)]bool) {
	var used [len(reasonColours)]bool
	cells := image.NewRGBA(image.Rect(0, 0, side*m.Columns, side*m.Rows))
	for i, v := range m.Values {
		var c color.Color
		if math.IsNaN(v) {
			r := m.reason(i)
			c, used[r] = reasonColours[r], true
		} else {
			at := (v - m.Low) / (m.High - m.Low) * float64(len(palette))
			c = palette[int(max(0, min(at, float64(len(palette)-1))))]
		}
		x, y := side*(i%m.Columns), side*(i/m.Columns)
		pixels.Draw(cells, image.Rect(x, y, x+side, y+side), image.NewUniform(c), image.Point{}, pixels.Src)
	}
	return cells, used
}

// bar returns the colour bar.
func (m *Map) bar(palette color.Palette) *plot.Plot {
	pl := ramp(palette, m.Low, m.High)
	pl.Y.Label.Text = m.Quantity
	ticks := endTicks{low: m.Low, high: m.High}
	for _, v := range m.Values {
		ticks.below, ticks.above = ticks.below || v < m.Low, ticks.above || v > m.High
	}
	pl.Y.Tick.Marker = ticks
	return pl
}

// endTicks marks the ends of a colour bar beyond which there are values.
type endTicks struct {
	low, high    float64
	below, above bool
}

// Ticks implements plot.Ticker.
func (t endTicks) Ticks(lower, upper float64) []plot.Tick {
	ticks := roundTicks{}.Ticks(lower, upper)
	for i := range ticks {
		switch {
		case t.below && ticks[i].Value <= t.low:
			ticks[i].Label = "≤ " + ticks[i].Label
		case t.above && ticks[i].Value >= t.high:
			ticks[i].Label = "≥ " + ticks[i].Label
		}
	}
	return ticks
}
