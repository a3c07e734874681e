// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package panels joins pictures.
package panels

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"io"

	"github.com/isochron-imaging/isochron/tfm/picture"
)

// WritePNG writes one picture of all sections on white, in rows of a number of columns.
func WritePNG(w io.Writer, columns int, sections ...picture.Section) error {
	var panels []image.Image
	var cell image.Point // the size of the largest panel
	for _, s := range sections {
		var b bytes.Buffer
		if err := s.WritePNG(&b); err != nil {
			return err
		}
		p, err := png.Decode(&b)
		if err != nil {
			return err
		}
		panels = append(panels, p)
		cell = image.Point{X: max(cell.X, p.Bounds().Dx()), Y: max(cell.Y, p.Bounds().Dy())}
	}
	rows := (len(panels) + columns - 1) / columns
	all := image.NewRGBA(image.Rect(0, 0, columns*cell.X, rows*cell.Y))
	draw.Draw(all, all.Bounds(), image.White, image.Point{}, draw.Src)
	for i, p := range panels {
		at := image.Pt(i%columns*cell.X, i/columns*cell.Y)
		draw.Draw(all, p.Bounds().Add(at), p, p.Bounds().Min, draw.Src)
	}
	return png.Encode(w, all)
}
