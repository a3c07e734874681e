// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/palette/moreland"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"github.com/isochron-imaging/isochron/tfm"
)

// Section is an image of a section, with the known surfaces, weld and reflectors of the part drawn
// over it. Lines are polylines of (x, z) in metres. Lines that leave the image are cut at its
// edge.
type Section struct {
	Title   string
	Caption string // one or more lines below the axes, such as the speeds and the step of the pixels
	// Levels is the image, of one slice. Pixels whose state is Blank are grey. Pixels whose state
	// is GainLimited are hatched. The colours run from the Floor of Levels to 0 dB, so the floor
	// given to [tfm.Envelope.Decibels] is the range of the picture. A Palette needs at least two
	// colours. Nil stands for a map from black through red and yellow to white, whose lightness
	// rises evenly.
	Levels     *tfm.Decibels
	Part       [][]r2.Vec // surfaces of the part, in grey
	Weld       [][]r2.Vec // preparation of a weld, in dashed grey
	Reflectors [][]r2.Vec // reflectors that are known to be there, in blue
	Ghosts     []Ghost
	Lines      []Line // further lines, such as rays, with a dark rim; a nil Colour is white
	Marks      []Mark
}

// Ghost is where a known echo is expected to show though no reflector is there, in dashed violet.
// Its label is placed beside the middle of its first line that passes through the image.
type Ghost struct {
	Label string
	Lines [][]r2.Vec // (x, z) in metres, finite, each of at least two points
}

// WritePNG writes s as a PNG picture.
func (s *Section) WritePNG(w io.Writer) error { return writePNG(w, s, wholeRoom) }

// WriteSVG writes s as an SVG picture.
func (s *Section) WriteSVG(w io.Writer) error { return writeSVG(w, s, wholeRoom) }

// validate reports the first field that cannot be drawn.
func (s *Section) validate() error {
	l := s.Levels
	if l == nil {
		return errors.New("picture: Levels are missing: want an image in decibels")
	}
	if err := l.Validate(); err != nil {
		return fmt.Errorf("picture: Levels: %w", err)
	}
	if l.Slices != 1 || len(l.Data) != l.Len() {
		return fmt.Errorf("picture: Levels of %d slices and %d values: want one slice, and one value for each of its %d pixels", l.Slices, len(l.Data), l.Cols*l.Rows)
	}
	if l.States != nil && len(l.States) != l.Len() {
		return fmt.Errorf("picture: Levels.States of length %d: want %d, one a pixel, or none", len(l.States), l.Len())
	}
	if !(l.Floor < 0) || math.IsInf(l.Floor, 0) {
		return fmt.Errorf("picture: Levels.Floor %v dB: want a finite value below 0", l.Floor)
	}
	if len(l.Palette) == 1 {
		return errors.New("picture: Levels.Palette of 1 colour: want at least 2, or none for the usual ones")
	}
	for _, field := range []struct {
		name  string
		lines [][]r2.Vec
	}{{"Part", s.Part}, {"Weld", s.Weld}, {"Reflectors", s.Reflectors}} {
		if err := checkPolylines(field.name, field.lines); err != nil {
			return err
		}
	}
	if err := checkLines(s.Lines); err != nil {
		return err
	}
	for i, g := range s.Ghosts {
		if err := checkPolylines(fmt.Sprintf("Ghosts[%d].Lines", i), g.Lines); err != nil {
			return err
		}
	}
	for i, m := range s.Marks {
		if err := checkPoints(fmt.Sprintf("Marks[%d].At", i), m.At); err != nil {
			return err
		}
		if err := checkPoints(fmt.Sprintf("Marks[%d].Contour", i), m.Contour...); err != nil {
			return err
		}
	}
	return nil
}

// The colours over the map, and the dark rim that keeps them visible where it is bright.
var (
	partColour      = color.RGBA{R: 170, G: 180, B: 190, A: 255}
	reflectorColour = color.RGBA{R: 90, G: 220, B: 255, A: 255}
	markColour      = color.RGBA{R: 120, G: 255, B: 140, A: 255}
	wallColour      = color.RGBA{R: 225, G: 225, B: 230, A: 255}
	ghostColour     = color.RGBA{R: 215, G: 140, B: 255, A: 255}
	blankColour     = color.RGBA{R: 84, G: 88, B: 98, A: 255}
	limitColour     = color.RGBA{R: 100, G: 120, B: 160, A: 255}
	rimColour       = color.Black
	gridColour      = color.RGBA{R: 225, G: 225, B: 225, A: 255}
)

// overlay is lines of one kind.
type overlay struct {
	name   string
	lines  [][]r2.Vec
	styles []draw.LineStyle // one over the other
}

// rimmed returns the styles of a line with a dark rim.
func rimmed(c color.Color, width float64, dashes ...vg.Length) []draw.LineStyle {
	return []draw.LineStyle{
		{Color: rimColour, Width: vg.Points(width + 1.3)},
		{Color: c, Width: vg.Points(width), Dashes: dashes},
	}
}

// add adds the lines to a plot, which widens its axes, and returns their key if there are lines
// with a name.
func (o overlay) add(pl *plot.Plot) []key {
	for _, style := range o.styles {
		for _, points := range o.lines {
			pl.Add(&plotter.Line{XYs: planar(points), LineStyle: style})
		}
	}
	if len(o.lines) == 0 || o.name == "" {
		return nil
	}
	return []key{{name: o.name, ground: rimColour, lines: o.styles[1:]}}
}

func (s *Section) overlays() []overlay {
	var ghosts [][]r2.Vec
	for _, g := range s.Ghosts {
		ghosts = append(ghosts, g.Lines...)
	}
	overlays := []overlay{
		{"surface of the part", s.Part, rimmed(partColour, 1)},
		{"weld", s.Weld, rimmed(partColour, 0.9, vg.Points(5), vg.Points(3))},
		{"known reflector", s.Reflectors, rimmed(reflectorColour, 1.4)},
		{"predicted ghost", ghosts, rimmed(ghostColour, 1.1, vg.Points(3), vg.Points(2))},
	}
	for _, l := range s.Lines {
		overlays = append(overlays, l.overlay())
	}
	return overlays
}

const (
	barWidth = 2.4 * vg.Centimeter // with its labels
	barGap   = 0.4 * vg.Centimeter
	// barMargin is the room on the right side of the bar.
	barMargin = 0.3 * vg.Centimeter
	barRoom   = barGap + barWidth + barMargin // beside the map
)

func (s *Section) figure(r room) (*figure, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	g := s.Levels.Grid
	from := r2.Vec{X: g.X(0) - g.Step.X/2, Y: g.Y(0) - g.Step.Z/2}
	to := r2.Vec{X: g.X(g.Cols-1) + g.Step.X/2, Y: g.Y(g.Rows-1) + g.Step.Z/2}
	pl := newSection(from, to)
	shown := reduced(s.Levels)
	if len(shown.Palette) == 0 {
		shown.Palette = usualPalette()
	}
	pl.Add(plotter.NewImage(greyed{shown}, mm(from.X), -mm(to.Y), mm(to.X), -mm(from.Y)))
	var keys []key
	if slices.ContainsFunc(shown.States, isBlank) {
		keys = append(keys, key{name: "no data", ground: blankColour})
	}
	if slices.ContainsFunc(shown.States, isLimited) {
		keys = append(keys, key{name: "gain at its limit", ground: limitColour})
	}
	for _, o := range s.overlays() {
		for _, k := range o.add(pl) {
			if !slices.ContainsFunc(keys, k.same) {
				keys = append(keys, k)
			}
		}
	}
	// Adding a line widens the axes to its points.
	pl.X.Min, pl.X.Max, pl.Y.Min, pl.Y.Max = mm(from.X), mm(to.X), -mm(to.Y), -mm(from.Y)
	width, height := r.toScale(pl, barRoom)
	pl.Add(markPlotter{s.Marks, s.Ghosts, from, to})
	f := &figure{
		title: s.Title, caption: s.Caption, keys: append(keys, markKeys(s.Marks)...),
		width: r.bodyWidth(width + barRoom), height: height,
	}
	f.body = func(c draw.Canvas) {
		main := leftOf(c, 0, width)
		pl.Draw(main)
		drawBar(leftOf(c, width+barGap, barWidth), bar(shown), dataArea(pl, main))
	}
	return f, nil
}

func isBlank(s tfm.State) bool { return s&tfm.Blank != 0 }

// isLimited reports whether a pixel shows levels that are too low, for lack of gain.
func isLimited(s tfm.State) bool { return s&tfm.GainLimited != 0 && !isBlank(s) }

// greyed is an image whose blank pixels are grey, because black would say that nothing lies there.
// It hatches the pixels whose gain is limited, for the same reason.
type greyed struct{ *tfm.Decibels }

// At implements image.Image.
func (g greyed) At(x, y int) color.Color {
	if g.States == nil {
		return g.Decibels.At(x, y)
	}
	const period, width = 10, 2 // of the hatching along x, in pixels
	switch s := g.States[y*g.Cols+x]; {
	case isBlank(s):
		return blankColour
	case isLimited(s) && (x+y)%period < width:
		return limitColour
	}
	return g.Decibels.At(x, y)
}

// usualPalette returns colours whose lightness rises evenly.
func usualPalette() color.Palette {
	m := moreland.BlackBody()
	m.SetMin(0)
	m.SetMax(1)
	return m.Palette(256).Colors()
}

// sharpest is the largest number of pixels that an axis of a picture shows.
const sharpest = 2000

// reduced returns d if a picture can show all its pixels. Otherwise it returns an image of the
// highest level in each block of pixels, so that no peak is lost.
func reduced(d *tfm.Decibels) *tfm.Decibels {
	small := *d
	block := (max(d.Cols, d.Rows) + sharpest - 1) / sharpest
	if block == 1 {
		return &small
	}
	small.Cols, small.Rows = (d.Cols+block-1)/block, (d.Rows+block-1)/block
	small.Data = make([]float32, small.Cols*small.Rows)
	for i := range small.Data {
		small.Data[i] = float32(math.Inf(-1))
	}
	if d.States != nil {
		small.States = make([]tfm.State, len(small.Data))
		for i := range small.States {
			small.States[i] = ^tfm.State(0)
		}
	}
	for i, v := range d.Data {
		j := i/d.Cols/block*small.Cols + i%d.Cols/block
		small.Data[j] = max(small.Data[j], v)
		if d.States != nil {
			small.States[j] &= d.States[i] // blank if all are
		}
	}
	return &small
}

// leftOf returns the part of a canvas with a width that begins at a place from the left.
func leftOf(c draw.Canvas, from, width vg.Length) draw.Canvas {
	c.Min.X += from
	c.Max.X = c.Min.X + width
	return c
}

// drawBar draws a colour bar as high as an area beside it.
func drawBar(c draw.Canvas, pl *plot.Plot, beside vg.Rectangle) {
	c.Min.Y, c.Max.Y = beside.Min.Y, beside.Max.Y
	own := dataArea(pl, c) // less than that, for the labels at its ends
	c.Min.Y -= own.Min.Y - beside.Min.Y
	c.Max.Y += beside.Max.Y - own.Max.Y
	pl.Draw(c)
}

// bar returns the colour bar of an image.
func bar(d *tfm.Decibels) *plot.Plot {
	pl := ramp(d.Palette, d.Floor, 0)
	pl.Y.Label.Text = "level / dB"
	if d.Quantity != tfm.Amplitude {
		pl.Y.Label.Text = d.Quantity.String() + " / dB"
	}
	above := false
	for _, v := range d.Data {
		above = above || v > 0
	}
	pl.Y.Tick.Marker = levelTicks{d.Floor, above}
	return pl
}

// ramp returns a colour bar from a low value at its foot to a high value.
func ramp(palette color.Palette, low, high float64) *plot.Plot {
	pl := newPlot()
	pl.HideX()
	pl.X.Padding, pl.Y.Padding = 0, 0
	strip := image.NewRGBA(image.Rect(0, 0, 1, len(palette)))
	for i, c := range palette {
		strip.Set(0, len(palette)-1-i, c)
	}
	pl.Add(plotter.NewImage(strip, 0, low, 1, high))
	pl.X.Min, pl.X.Max, pl.Y.Min, pl.Y.Max = 0, 1, low, high
	return pl
}

// levelTicks labels the ends of a colour bar with their meaning.
type levelTicks struct {
	floor float64
	above bool // there are levels above 0
}

// Ticks implements plot.Ticker.
func (t levelTicks) Ticks(lower, upper float64) []plot.Tick {
	ticks := roundTicks{}.Ticks(lower, upper)
	if first := ticks[0].Value; first > t.floor {
		floor := plot.Tick{Value: t.floor, Label: strconv.FormatFloat(t.floor, 'g', 6, 64)}
		if first-t.floor < 0.6*(ticks[1].Value-first) { // there is no room for both labels
			ticks = ticks[1:]
		}
		ticks = append([]plot.Tick{floor}, ticks...)
	}
	for i := range ticks {
		switch {
		case ticks[i].Value <= t.floor:
			ticks[i].Label = "≤ " + ticks[i].Label
		case ticks[i].Value >= 0 && t.above:
			ticks[i].Label = "≥ 0"
		}
	}
	return ticks
}
