// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"io"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
)

// Chart is curves over two axes.
type Chart struct {
	Title   string
	Caption string // one or more lines below the axes
	X, Y    Axis
	Lines   []Line
}

// Axis is an axis of a [Chart].
type Axis struct {
	Label    string  // the quantity and its unit, such as "time / µs"
	From, To float64 // the ends, finite and in ascending order; curves are cut there
}

// WritePNG writes c as a PNG picture.
func (c *Chart) WritePNG(w io.Writer) error { return writePNG(w, c, wholeRoom) }

// WriteSVG writes c as an SVG picture.
func (c *Chart) WriteSVG(w io.Writer) error { return writeSVG(w, c, wholeRoom) }

const (
	chartWidth  = 20 * vg.Centimeter
	chartHeight = 9 * vg.Centimeter
)

func (c *Chart) figure(r room) (*figure, error) {
	if err := checkRange("X", c.X.From, c.X.To); err != nil {
		return nil, err
	}
	if err := checkRange("Y", c.Y.From, c.Y.To); err != nil {
		return nil, err
	}
	if err := checkLines(c.Lines); err != nil {
		return nil, err
	}
	pl := newPlot()
	pl.X.Label.Text, pl.Y.Label.Text = printable(c.X.Label), printable(c.Y.Label)
	grid := plotter.NewGrid()
	grid.Vertical.Color, grid.Horizontal.Color = gridColour, gridColour
	pl.Add(grid)
	for i := range c.Lines {
		line := c.Lines[i].plotter(asTheyAre)
		pl.Add(&line)
	}
	// Adding a line widens the axes to its points.
	pl.X.Min, pl.X.Max, pl.Y.Min, pl.Y.Max = c.X.From, c.X.To, c.Y.From, c.Y.To
	return &figure{
		title: c.Title, caption: c.Caption, keys: keysOf(c.Lines),
		width: min(chartWidth, r.width), height: min(chartHeight, r.height), body: pl.Draw, elastic: true,
	}, nil
}

// asTheyAre returns points in the units of the axes.
func asTheyAre(points []r2.Vec) plotter.XYs {
	xys := make(plotter.XYs, len(points))
	for i, p := range points {
		xys[i] = plotter.XY(p)
	}
	return xys
}
