// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/tfm"
)

// drawn draws p and decodes the picture.
func drawn(t *testing.T, p Picture) image.Image {
	t.Helper()
	var data bytes.Buffer
	if err := p.WritePNG(&data); err != nil {
		t.Fatal(err)
	}
	picture, err := png.Decode(&data)
	if err != nil {
		t.Fatal(err)
	}
	return picture
}

// extent returns the rectangle around the pixels whose colour a function accepts.
func extent(m image.Image, pick func(r, g, b uint8) bool) image.Rectangle {
	var box image.Rectangle
	b := m.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			c := color.RGBAModel.Convert(m.At(x, y)).(color.RGBA)
			if pick(c.R, c.G, c.B) {
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return box
}

// mapArea returns the rectangle of the map: the columns and rows that are mostly dark. Text is
// dark, but covers only a small part of its rows.
func mapArea(m image.Image) image.Rectangle {
	b := m.Bounds()
	across, down := make([]int, b.Max.X), make([]int, b.Max.Y)
	for y := range b.Max.Y {
		for x := range b.Max.X {
			c := color.RGBAModel.Convert(m.At(x, y)).(color.RGBA)
			if dark(c.R, c.G, c.B) {
				across[x]++
				down[y]++
			}
		}
	}
	first := func(counts []int, least int) int {
		return slices.IndexFunc(counts, func(n int) bool { return n > least })
	}
	last := func(counts []int, least int) int {
		reversed := slices.Clone(counts)
		slices.Reverse(reversed)
		return len(counts) - first(reversed, least)
	}
	w, h := b.Max.Y/2, b.Max.X/2
	return image.Rect(first(across, w), first(down, h), last(across, w), last(down, h))
}

func blue(r, g, b uint8) bool  { return b > 200 && r < 130 && g > 170 }
func green(r, g, b uint8) bool { return g > 220 && r < 150 && b < 180 }
func dark(r, g, b uint8) bool  { return r < 8 && g < 8 && b < 8 }

// dark30 returns an image of 20 × 10 mm at its floor of -30 dB.
func dark30(t testing.TB) *tfm.Decibels {
	t.Helper()
	g, err := tfm.NewSection(0, 20e-3, 0, 10e-3, 0.1e-3)
	if err != nil {
		t.Fatal(err)
	}
	d := &tfm.Decibels{Grid: g, Floor: -30, Data: make([]float32, g.Len())}
	for i := range d.Data {
		d.Data[i] = -30
	}
	return d
}

// TestWritePNG checks the positions of the parts of a picture on a map of 20 × 10 mm. The map is
// at its floor except for a bright block in the lower left. A blue line lies in the upper right,
// and a green mark in the middle.
func TestWritePNG(t *testing.T) {
	levels := dark30(t)
	g := levels.Grid
	for i := range levels.Data {
		if q := g.Point(i); q.X > 2e-3 && q.X < 4e-3 && q.Z > 8e-3 && q.Z < 9e-3 {
			levels.Data[i] = -5
		}
	}
	m := drawn(t, &Section{
		Levels:     levels,
		Reflectors: [][]r2.Vec{{{X: 15e-3, Y: 1e-3}, {X: 18e-3, Y: 3e-3}}},
		Marks:      []Mark{{At: r2.Vec{X: 10e-3, Y: 5e-3}, Label: "1"}},
	})
	area := mapArea(m)
	scale := float64(area.Dx()) / 20 // pixels a mm
	if ratio := float64(area.Dy()) / 10 / scale; ratio < 0.95 || ratio > 1.05 {
		t.Errorf("map of %v pixels: x and z are not to one scale", area.Size())
	}
	at := func(x, z float64) image.Point {
		return area.Min.Add(image.Pt(int(x*scale), int(z*scale)))
	}
	tolerance := int(0.3 * scale)
	inside := m.(interface {
		SubImage(image.Rectangle) image.Image
	}).SubImage(area) // without the keys
	line := extent(inside, blue)
	for _, corner := range []struct{ got, want image.Point }{{line.Min, at(15, 1)}, {line.Max, at(18, 3)}} {
		if d := corner.got.Sub(corner.want); max(d.X, -d.X, d.Y, -d.Y) > tolerance {
			t.Errorf("corner of the reflector at %v, want %v", corner.got, corner.want)
		}
	}
	// The number of the mark is above the mark on its right.
	mark := extent(inside, green)
	if middle := at(10, 5); !middle.In(mark) || mark.Dx() > int(2*scale) || mark.Dy() > int(2*scale) {
		t.Errorf("mark in %v, want it round %v", mark, middle)
	}
	bright := at(3, 8.5)
	x, y := bright.X, bright.Y
	if r, g, b, _ := m.At(x, y).RGBA(); r>>8 < 200 || g>>8 < 120 {
		t.Errorf("the bright block is (%d, %d, %d) at (%d, %d)", r>>8, g>>8, b>>8, x, y)
	}
}

// TestGhosts checks the place of a ghost's line and label. The label stands beside the middle of
// the first line that lies inside the map.
func TestGhosts(t *testing.T) {
	m := drawn(t, &Section{Levels: dark30(t), Ghosts: []Ghost{
		{Label: "G1", Lines: [][]r2.Vec{
			{{X: 30e-3, Y: 5e-3}, {X: 40e-3, Y: 5e-3}}, // outside
			{{X: 4e-3, Y: 5e-3}, {X: 5e-3, Y: 5e-3}, {X: 6e-3, Y: 5e-3}},
		}},
	}})
	area := mapArea(m)
	scale := float64(area.Dx()) / 20 // pixels a mm
	inside := m.(interface {
		SubImage(image.Rectangle) image.Image
	}).SubImage(area) // without the keys
	violet := func(r, g, b uint8) bool { return r > 150 && g < 170 && b > 200 }
	box := extent(inside, violet)
	for _, x := range []float64{4.2, 5.8} {
		if at := area.Min.Add(image.Pt(int(x*scale), int(5*scale))); !at.In(box.Inset(-int(0.3 * scale))) {
			t.Errorf("ghost in %v, want it to reach %v", box, at)
		}
	}
	if box.Dx() > int(4*scale) || box.Dy() < int(0.3*scale) || box.Dy() > int(2*scale) {
		t.Errorf("ghost of %v pixels, want a line of 2 mm with a label", box.Size())
	}
}

func TestTicks(t *testing.T) {
	for _, test := range []struct {
		lower, upper float64
	}{{0, 10}, {-17.05, -0.95}, {4.2, 4.9}, {-30, 0}} {
		ticks := roundTicks{}.Ticks(test.lower, test.upper)
		if n := len(ticks); n < 5 || n > 12 {
			t.Errorf("%d ticks from %v to %v", n, test.lower, test.upper)
		}
		for _, tick := range ticks {
			if tick.Value < test.lower || tick.Value > test.upper || tick.Label == "" {
				t.Errorf("tick %+v outside %v to %v", tick, test.lower, test.upper)
			}
		}
	}
	// The axis of depth points down: the label of -3 is 3.
	for _, tick := range (depthTicks{}).Ticks(-5, -1) {
		if tick.Value == -3 && tick.Label != "3" {
			t.Errorf("label %q at a depth of 3", tick.Label)
		}
	}
}

// mustNot ends the test at an error.
func mustNot(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
