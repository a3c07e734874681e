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

// WritePNG writes one picture of all sections, one below the other, on white.
func WritePNG(w io.Writer, sections ...picture.Section) error {
	var panels []image.Image
	var size image.Point
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
		size = image.Point{X: max(size.X, p.Bounds().Dx()), Y: size.Y + p.Bounds().Dy()}
	}
	all := image.NewRGBA(image.Rectangle{Max: size})
	draw.Draw(all, all.Bounds(), image.White, image.Point{}, draw.Src)
	top := 0
	for _, p := range panels {
		draw.Draw(all, p.Bounds().Add(image.Pt(0, top)), p, p.Bounds().Min, draw.Src)
		top += p.Bounds().Dy()
	}
	return png.Encode(w, all)
}
