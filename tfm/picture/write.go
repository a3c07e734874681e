// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"bytes"
	"image/color"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

const dpi = 110

// Picture is what this package draws: a [Section], a [Drawing], a [Map], a [Chart] or [Panels].
type Picture interface {
	WritePNG(w io.Writer) error
	WriteSVG(w io.Writer) error
	// figure returns the picture, with a body that fits into a room.
	figure(r room) (*figure, error)
}

// writePNG draws a picture and writes it.
func writePNG(w io.Writer, p Picture, r room) error {
	f, err := p.figure(r)
	if err != nil {
		return err
	}
	width, height := f.size()
	canvas := vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))
	f.draw(draw.New(canvas))
	_, err = vgimg.PngCanvas{Canvas: canvas}.WriteTo(w)
	return err
}

// writeSVG draws a picture and writes it.
func writeSVG(w io.Writer, p Picture, r room) error {
	f, err := p.figure(r)
	if err != nil {
		return err
	}
	width, height := f.size()
	canvas := vgsvg.NewWith(vgsvg.UseWH(width, height), vgsvg.EmbedFonts(true))
	whole := draw.New(canvas)
	whole.SetColor(color.White)
	whole.Fill(whole.Rectangle.Path())
	f.draw(whole)
	var text bytes.Buffer
	if _, err := canvas.WriteTo(&text); err != nil {
		return err
	}
	// vgsvg names an embedded PNG a JPEG, and lets viewers keep square pixels.
	out := bytes.ReplaceAll(text.Bytes(), []byte("data:image/jpg;"), []byte("data:image/png;"))
	out = bytes.ReplaceAll(out, []byte("<image x="), []byte(`<image preserveAspectRatio="none" x=`))
	_, err = w.Write(out)
	return err
}

// figure is a body of axes with a title above it, and with keys and a caption below it.
type figure struct {
	title, caption string
	keys           []key
	width, height  vg.Length // of the body
	body           func(draw.Canvas)
	elastic        bool // the body may be higher
}

const (
	margin = 0.25 * vg.Centimeter
	gap    = 0.2 * vg.Centimeter
)

// texts returns the lines of the title and of the caption.
func (f *figure) texts() (title, caption []string) {
	return wrap(titleStyle, f.title, f.width), wrap(captionStyle, f.caption, f.width)
}

// size returns the size of the whole figure.
func (f *figure) size() (width, height vg.Length) {
	title, caption := f.texts()
	height = f.height + 2*margin
	for _, part := range []vg.Length{blockHeight(titleStyle, title), keysHeight(f.keys, f.width), blockHeight(captionStyle, caption)} {
		if part > 0 {
			height += part + gap
		}
	}
	return f.width + 2*margin, height
}

// draw draws the whole figure.
func (f *figure) draw(c draw.Canvas) {
	title, caption := f.texts()
	c = draw.Crop(c, margin, -margin, margin, -margin)
	if len(title) > 0 {
		c.Max.Y = fillBlock(c, titleStyle, title) - gap
	}
	f.body(draw.Crop(c, 0, 0, c.Max.Y-c.Min.Y-f.height, 0))
	c.Max.Y -= f.height
	if len(f.keys) > 0 {
		c.Max.Y = drawKeys(draw.Crop(c, 0, 0, 0, -gap), f.keys)
	}
	if len(caption) > 0 {
		fillBlock(draw.Crop(c, 0, 0, 0, -gap), captionStyle, caption)
	}
}
