// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"bytes"
	"image/color"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/check"
)

// plates returns a map of 4 × 2 cells of 10 mm: six values and two reasons.
func plates() *Map {
	nan := math.NaN()
	return &Map{
		Title: "plate", To: r2.Vec{X: 40e-3, Y: 20e-3}, Across: "s / mm", Down: "x / mm",
		Columns: 4, Rows: 2, Quantity: "thickness / mm", Low: 5, High: 10,
		Values: []float64{4, 5, 7, 10, 11, nan, nan, 6}, Reason: []uint8{0, 0, 0, 0, 0, 0, 1, 0},
		Reasons: []string{"not scanned", "no echo"},
	}
}

// TestMapCells checks the colours of the cells: beyond the ends of the scale the ends, and for
// cells without a value colours that the scale does not have.
func TestMapCells(t *testing.T) {
	palette := usualPalette()
	cells, used := plates().coloured(palette, 3)
	at := func(x, y int) color.Color { return color.RGBAModel.Convert(cells.At(3*x+2, 3*y)) }
	same := func(name string, got, want color.Color) {
		t.Helper()
		if want := color.RGBAModel.Convert(want); got != want {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
	}
	same("below the scale", at(0, 0), palette[0])
	same("its low end", at(1, 0), palette[0])
	same("7 of 5 to 10", at(2, 0), palette[int(0.4*float64(len(palette)))])
	same("its high end", at(3, 0), palette[len(palette)-1])
	same("above the scale", at(0, 1), palette[len(palette)-1])
	same("not scanned", at(1, 1), reasonColours[0])
	same("no echo", at(2, 1), reasonColours[1])
	if !used[0] || !used[1] || used[2] {
		t.Errorf("reasons that occur: %v, want the first two", used)
	}
	for i, r := range reasonColours {
		for _, c := range palette {
			p := color.RGBAModel.Convert(c).(color.RGBA)
			if d := math.Hypot(math.Hypot(float64(p.R)-float64(r.R), float64(p.G)-float64(r.G)), float64(p.B)-float64(r.B)); d < 40 {
				t.Errorf("reason %d: the scale has nearly its colour, %v", i, p)
			}
		}
	}
}

// TestMapPicture checks that the picture shows each reason as an area of its colour, in the map
// and in the key, and the minimum as a mark.
func TestMapPicture(t *testing.T) {
	m := plates()
	m.Marks = []Mark{{At: r2.Vec{X: 5e-3, Y: 5e-3}, Label: "minimum 4.00 mm"}}
	m.Reflectors = [][]r2.Vec{Circle(5e-3, 5e-3, 8e-3)} // leaves the map
	picture := drawn(t, m)
	if extent(picture, blue).Empty() {
		t.Error("no outline")
	}
	for i := range m.Reasons {
		c := reasonColours[i]
		box := extent(picture, func(r, g, b uint8) bool { return r == c.R && g == c.G && b == c.B })
		if box.Dx() < 100 || box.Dy() < 100 {
			t.Errorf("%s covers %v, want a cell and a key", m.Reasons[i], box)
		}
	}
	if extent(picture, green).Empty() {
		t.Error("no mark")
	}
	var svg bytes.Buffer
	if err := m.WriteSVG(&svg); err != nil || !bytes.Contains(svg.Bytes(), []byte("thickness / mm")) {
		t.Errorf("SVG without the name of the quantity: %v", err)
	}
}

// TestMapBar checks the labels at the ends of the colour bar.
func TestMapBar(t *testing.T) {
	labels := func(m *Map) (first, last string) {
		ticks := m.bar(usualPalette()).Y.Tick.Marker.Ticks(m.Low, m.High)
		return ticks[0].Label, ticks[len(ticks)-1].Label
	}
	m := plates()
	if first, last := labels(m); first != "≤ 5" || last != "≥ 10" {
		t.Errorf("ends of the bar %q and %q, want ≤ 5 and ≥ 10", first, last)
	}
	m.Values[0], m.Values[4] = 5, 10
	if first, last := labels(m); first != "5" || last != "10" {
		t.Errorf("ends of the bar %q and %q, want 5 and 10", first, last)
	}
}

// TestMapRefusals checks the errors of bad maps.
func TestMapRefusals(t *testing.T) {
	for _, c := range []struct {
		word   string
		change func(*Map)
	}{
		{"X of From", func(m *Map) { m.To.X = 0 }},
		{"Y of From", func(m *Map) { m.To.Y = math.NaN() }},
		{"columns", func(m *Map) { m.Columns = 0 }},
		{"rows", func(m *Map) { m.Rows = 2001 }},
		{"Values", func(m *Map) { m.Values = m.Values[1:] }},
		{"Values[2]", func(m *Map) { m.Values[2] = math.Inf(1) }},
		{"Low", func(m *Map) { m.Low = 10 }},
		{"Reasons", func(m *Map) { m.Reasons = slices.Repeat(m.Reasons, 4) }},
		{"Reason", func(m *Map) { m.Reason = m.Reason[1:] }},
		{"Reason[6]", func(m *Map) { m.Reason[6] = 2 }},
		{"Marks[0]", func(m *Map) { m.Marks = []Mark{{At: r2.Vec{X: math.NaN()}}} }},
		{"Reflectors", func(m *Map) { m.Reflectors = [][]r2.Vec{{{X: math.Inf(1)}, {}}} }},
		{"contour", func(m *Map) { m.Marks = []Mark{{Contour: make([]r2.Vec, 1)}} }},
	} {
		m := plates()
		c.change(m)
		check.Error(t, m.WritePNG(new(bytes.Buffer)), "picture: ", c.word)
	}
	m := plates()
	m.Reason, m.Reasons = nil, nil
	if drawn(t, m).Bounds().Empty() {
		t.Error("no picture without reasons")
	}
}
