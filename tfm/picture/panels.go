// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Panels is pictures beside each other, row by row. The panels share the room of one picture of 34
// cm × 18 cm, the shape of a slide, so each of them is smaller than it is alone. A chart is as
// high as the highest panel of its row. Keys that panels share stand once below all panels.
type Panels struct {
	Title    string    // above all panels
	Caption  string    // one or more lines below all panels
	Columns  int       // panels in a row, 1 to 6; 0 stands for all panels in one row
	Pictures []Picture // at least one, none nil
}

// panelsRoom is the room of panels that stand alone.
var panelsRoom = room{34 * vg.Centimeter, 18 * vg.Centimeter}

// mostColumns is the largest number of panels in a row.
const mostColumns = 6

// WritePNG writes p as a PNG picture.
func (p *Panels) WritePNG(w io.Writer) error { return writePNG(w, p, panelsRoom) }

// WriteSVG writes p as an SVG picture.
func (p *Panels) WriteSVG(w io.Writer) error { return writeSVG(w, p, panelsRoom) }

func (p *Panels) figure(r room) (*figure, error) {
	columns := p.Columns
	if columns == 0 {
		columns = len(p.Pictures)
	}
	switch {
	case len(p.Pictures) == 0:
		return nil, errors.New("picture: Pictures are missing: want at least one")
	case columns < 1 || columns > mostColumns:
		return nil, fmt.Errorf("picture: Columns %d: want 1 to %d", columns, mostColumns)
	}
	rows := (len(p.Pictures) + columns - 1) / columns
	share := room{r.width/vg.Length(columns) - 2*margin, r.height/vg.Length(rows) - 2*margin}
	widths, heights := make([]vg.Length, columns), make([]vg.Length, rows)
	panels := make([]*figure, len(p.Pictures))
	for i, one := range p.Pictures {
		if one == nil {
			return nil, fmt.Errorf("picture: Pictures[%d] is missing", i)
		}
		f, err := one.figure(share)
		if err != nil {
			return nil, fmt.Errorf("picture: Pictures[%d]: %w", i, err)
		}
		panels[i] = f
	}
	keys := sharedKeys(panels)
	for i, f := range panels {
		width, height := f.size()
		column, row := i%columns, i/columns
		widths[column], heights[row] = max(widths[column], width), max(heights[row], height)
	}
	for i, f := range panels {
		if _, height := f.size(); f.elastic {
			f.height += heights[i/columns] - height
		}
	}
	return &figure{
		title: p.Title, caption: p.Caption, width: sum(widths), height: sum(heights), keys: keys,
		body: func(c draw.Canvas) {
			for i, f := range panels {
				column, row := i%columns, i/columns
				width, height := f.size()
				left, top := c.Min.X+sum(widths[:column]), c.Max.Y-sum(heights[:row])
				cell := c
				cell.Min, cell.Max = vg.Point{X: left, Y: top - height}, vg.Point{X: left + width, Y: top}
				f.draw(cell)
			}
		},
	}, nil
}

// sharedKeys removes the keys of two or more panels that have the same keys, and returns these
// keys. So the keys stand once below the panels. If another panel has other keys, it returns nil.
func sharedKeys(panels []*figure) []key {
	var keys []key
	with := 0 // panels with keys
	for _, f := range panels {
		if len(f.keys) == 0 {
			continue
		}
		if with++; with > 1 && !slices.EqualFunc(f.keys, keys, key.same) {
			return nil
		}
		keys = f.keys
	}
	if with < 2 {
		return nil
	}
	for _, f := range panels {
		f.keys = nil
	}
	return keys
}

func sum(lengths []vg.Length) (total vg.Length) {
	for _, l := range lengths {
		total += l
	}
	return total
}
