// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"io"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot/vg/draw"
)

// Drawing is a section through a part in lines, x and z to one scale.
type Drawing struct {
	Title    string
	Caption  string // one or more lines below the axes
	From, To r2.Vec // corners, (x, z) in metres, finite and in ascending order
	Lines    []Line
}

// WritePNG writes d as a PNG picture.
func (d *Drawing) WritePNG(w io.Writer) error { return writePNG(w, d, wholeRoom) }

// WriteSVG writes d as an SVG picture.
func (d *Drawing) WriteSVG(w io.Writer) error { return writeSVG(w, d, wholeRoom) }

func (d *Drawing) figure(r room) (*figure, error) {
	if err := checkRange("x of From and To", d.From.X, d.To.X); err != nil {
		return nil, err
	}
	if err := checkRange("z of From and To", d.From.Y, d.To.Y); err != nil {
		return nil, err
	}
	if err := checkLines(d.Lines); err != nil {
		return nil, err
	}
	pl := newSection(d.From, d.To)
	for i := range d.Lines {
		line := d.Lines[i].plotter(planar)
		pl.Add(&line)
	}
	// Adding a line widens the axes to its points.
	pl.X.Min, pl.X.Max, pl.Y.Min, pl.Y.Max = mm(d.From.X), mm(d.To.X), -mm(d.To.Y), -mm(d.From.Y)
	width, height := r.toScale(pl, 0)
	return &figure{
		title: d.Title, caption: d.Caption, keys: keysOf(d.Lines), width: r.bodyWidth(width), height: height,
		body: func(c draw.Canvas) { pl.Draw(leftOf(c, 0, width)) },
	}, nil
}
