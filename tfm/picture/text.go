// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"image/color"
	"strings"
	"unicode"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// style returns the style of text of a size in points.
func style(size vg.Length, x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{
		Color:   color.Black,
		Font:    font.Font{Typeface: "Liberation", Variant: "Sans", Size: size},
		XAlign:  x,
		YAlign:  y,
		Handler: plot.DefaultTextHandler,
	}
}

var (
	titleStyle   = style(12, draw.XCenter, draw.YTop)
	axisStyle    = style(11, draw.XCenter, draw.YTop)
	tickStyle    = style(9.5, draw.XCenter, draw.YTop)
	captionStyle = style(9, draw.XLeft, draw.YTop)
	keyStyle     = style(9, draw.XLeft, draw.YCenter)
	labelStyle   = style(10, draw.XCenter, draw.YCenter)
)

// lineHeight is the distance of lines of text as a multiple of the font's size.
const lineHeight = 1.3

// wrap breaks a text into lines of at most width. Words that are longer are broken too.
func wrap(s text.Style, txt string, width vg.Length) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(printable(txt)) {
		if joined := strings.TrimLeft(line+" "+word, " "); s.Width(joined) <= width {
			line = joined
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		line = ""
		for _, letter := range word {
			if line != "" && s.Width(line+string(letter)) > width {
				lines = append(lines, line)
				line = ""
			}
			line += string(letter)
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// printable replaces characters that are not printed by spaces.
func printable(txt string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}, strings.ToValidUTF8(txt, "\uFFFD"))
}

// blockHeight returns the height of lines of text.
func blockHeight(s text.Style, lines []string) vg.Length {
	return vg.Length(len(lines)) * lineHeight * s.Font.Size
}

// fillBlock fills lines of text at the top of c, and returns where they end.
func fillBlock(c draw.Canvas, s text.Style, lines []string) (bottom vg.Length) {
	at := vg.Point{X: c.X(-float64(s.XAlign)), Y: c.Max.Y}
	for _, line := range lines {
		c.FillText(s, at, line)
		at.Y -= lineHeight * s.Font.Size
	}
	return at.Y
}
