// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"image/color"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"

	"github.com/isochron-imaging/isochron/tfm"
)

// TestLabelPlaces checks the places of labels of one point, each beside the point and free.
func TestLabelPlaces(t *testing.T) {
	l := layout{area: vg.Rectangle{Max: vg.Point{X: 200, Y: 200}}}
	at := vg.Point{X: 100, Y: 100}
	const x, y = 8 + cross + 2, 6 + cross + 2
	for _, want := range []vg.Point{{X: x, Y: y}, {X: x, Y: -y}, {X: -x, Y: y}, {X: -x, Y: -y}, {X: x}, {X: -x}} {
		if got := middle(l.place(at, 8, 6)).Sub(at); got != want {
			t.Errorf("label at %v from its point, want %v", got, want)
		}
	}
}

// TestBodySizes checks that tall and wide drawings keep to the largest size, margins to their sum.
func TestBodySizes(t *testing.T) {
	for _, to := range []r2.Vec{{X: 1, Y: 10}, {X: 10, Y: 1}, {X: 1, Y: 1}} {
		f, err := (&Drawing{To: to}).figure(wholeRoom)
		if err != nil {
			t.Fatal(err)
		}
		if f.width > wholeRoom.width+1e-6 || f.height > wholeRoom.height+1e-6 {
			t.Errorf("drawing of %v m is %v × %v points", to, f.width, f.height)
		}
		if w, _ := wholeRoom.toScale(newSection(r2.Vec{}, to), barRoom); w > wholeRoom.width-barRoom+1e-6 {
			t.Errorf("section of %v m is %v points wide beside the bar", to, w)
		}
		w, h := f.size()
		if w, h := w-f.width-2*margin, h-f.height-2*margin; math.Abs(float64(w))+math.Abs(float64(h)) > 1e-6 {
			t.Errorf("drawing of %v m: margins off by %v and %v points", to, w, h)
		}
	}
}

// TestPixelsWhole checks that the map shows whole pixels: 4 × 3 of 5 mm fill 20 × 15 mm.
func TestPixelsWhole(t *testing.T) {
	g, err := tfm.NewSection(0, 15e-3, 0, 10e-3, 5e-3)
	if err != nil {
		t.Fatal(err)
	}
	levels := &tfm.Decibels{Grid: g, Floor: -30, Data: make([]float32, g.Len())}
	for i := range levels.Data {
		levels.Data[i] = -30
	}
	size := mapArea(drawn(t, &Section{Levels: levels})).Size()
	if ratio := float64(size.X) / float64(size.Y); !(math.Abs(ratio-4./3) <= 0.02) {
		t.Errorf("map of %v pixels, want 4 to 3", size)
	}
}

// TestKeyRow checks that the first row of keys lies at the top.
func TestKeyRow(t *testing.T) {
	c, names := new(recorder.Canvas), 0
	drawKeys(draw.NewCanvas(c, 200, 100), []key{{name: "line", ground: color.White}})
	for _, action := range c.Actions {
		if text, ok := action.(*recorder.FillString); ok {
			names++
			if y := text.Point.Y; y < 100-rowHeight || y > 100 {
				t.Errorf("%q at a height of %v, want %v to 100", text.String, y, 100-rowHeight)
			}
		}
	}
	if names != 1 {
		t.Errorf("%d names, want 1", names)
	}
}

// TestStyles checks that dashed lines are dashed, and that the colour bar has no horizontal axis.
func TestStyles(t *testing.T) {
	if plain, dashed := (&Line{}).style(), (&Line{Dashed: true}).style(); len(plain.Dashes) != 0 || len(dashed.Dashes) == 0 {
		t.Errorf("dashes %v of a plain line, %v of a dashed one", plain.Dashes, dashed.Dashes)
	}
	if ticks := bar(dark30(t)).X.Tick.Marker.Ticks(0, 1); len(ticks) != 0 {
		t.Errorf("%d ticks across the colour bar, want none", len(ticks))
	}
}

// TestHatching checks which pixels are hatched, and that the key names them.
func TestHatching(t *testing.T) {
	d := &tfm.Decibels{Grid: tfm.Grid{Step: r3.Vec{X: 1e-3, Y: 1e-3, Z: 1e-3}, Cols: 20, Rows: 2, Slices: 1}, Floor: -40}
	d.Data = make([]float32, 40) // all at 0 dB: white
	d.States = make([]tfm.State, 40)
	for x := range 20 {
		d.States[x] = tfm.GainLimited
		d.States[20+x] = tfm.Blank | tfm.GainLimited
	}
	d.States[1] = tfm.NoRay // has no hatching
	for x := range 20 {
		want := color.Color(color.RGBA{R: 255, G: 255, B: 255, A: 255})
		if x%10 < 2 && x != 1 {
			want = limitColour
		}
		if got := (greyed{d}).At(x, 0); got != want {
			t.Errorf("pixel %d: %v, want %v", x, got, want)
		}
		if got := (greyed{d}).At(x, 1); got != blankColour {
			t.Errorf("pixel %d of blank pixels: %v, want %v", x, got, blankColour)
		}
	}
	for _, states := range [][]tfm.State{d.States, nil} {
		d.States = states
		f, err := (&Section{Levels: d}).figure(wholeRoom)
		if err != nil {
			t.Fatal(err)
		}
		named := slices.ContainsFunc(f.keys, func(k key) bool { return k.name == "gain at its limit" })
		if want := states != nil; named != want {
			t.Errorf("the key names limited pixels: %v, want %v", named, want)
		}
	}
}
