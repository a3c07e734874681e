// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// gridXYZ is the interface of gonum plot, which the library does not import.
type gridXYZ interface {
	Dims() (c, r int)
	Z(c, r int) float64
	X(c int) float64
	Y(r int) float64
}

var (
	_ gridXYZ     = (*Envelope)(nil)
	_ gridXYZ     = (*Decibels)(nil)
	_ image.Image = (*Decibels)(nil)
)

func TestGrid(t *testing.T) {
	for _, test := range []struct {
		name, reason   string
		x0, x1, z0, z1 float64
		step           float64
		cols, rows     int
	}{
		{"whole steps", "both ends are pixels", 0, 0.01, 0, 0.02, 0.001, 11, 21},
		{"whole steps in decimal", "24 mm and 15 mm by 0.1 mm, not exact in binary", 8e-3, 32e-3, 2e-3, 17e-3, 0.1e-3, 241, 151},
		{"part of a step", "the last pixel lies before the end", 0, 0.0105, 0, 0.0199, 0.001, 11, 20},
		{"one pixel", "a range of no length", 0.005, 0.005, 0.01, 0.01, 0.001, 1, 1},
		{"step beyond the range", "one pixel at the start", 0, 0.01, 0, 0.01, 1, 1, 1},
	} {
		t.Run(test.name, func(t *testing.T) {
			g, err := NewSection(test.x0, test.x1, test.z0, test.z1, test.step)
			if err != nil {
				t.Fatal(err)
			}
			if g.Cols != test.cols || g.Rows != test.rows || g.Slices != 1 {
				t.Errorf("%s: %d × %d × %d pixels, want %d × %d × 1", test.reason, g.Cols, g.Rows, g.Slices, test.cols, test.rows)
			}
		})
	}
}

func TestGridPoints(t *testing.T) {
	g := check.Must(NewVolume(r3.Vec{X: 1, Y: 10, Z: 100}, r3.Vec{X: 3, Y: 14, Z: 103}, r3.Vec{X: 1, Y: 2, Z: 3}))
	points := g.Points()
	if len(points) != g.Len() || g.Len() != 3*3*2 {
		t.Fatalf("%d points, want 18", len(points))
	}
	index := 0
	for y := 10.0; y <= 14; y += 2 {
		for z := 100.0; z <= 103; z += 3 {
			for x := 1.0; x <= 3; x++ {
				if want := (r3.Vec{X: x, Y: y, Z: z}); points[index] != want || g.Point(index) != want {
					t.Errorf("point %d is %v and %v, want %v", index, points[index], g.Point(index), want)
				}
				index++
			}
		}
	}
	if c, r := g.Dims(); c != 3 || r != 2 || g.X(2) != 3 || g.Y(1) != 103 {
		t.Errorf("%d × %d pixels, x(2) = %v, z(1) = %v", c, r, g.X(2), g.Y(1))
	}
}

func TestBadGrid(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, test := range []struct {
		name                 string
		x0, x1, z0, z1, step float64
		words                []string
	}{
		{"no step", 0, 1, 0, 1, 0, []string{"step 0", "above 0"}},
		{"negative step", 0, 1, 0, 1, -1, []string{"step -1"}},
		{"NaN step", 0, 1, 0, 1, nan, []string{"step NaN"}},
		{"infinite step", 0, 1, 0, 1, inf, []string{"step +Inf"}},
		{"reversed x", 1, 0, 0, 1, 0.1, []string{"1 to 0 m along x", "ascending"}},
		{"reversed z", 0, 1, 1, 0, 0.1, []string{"along z", "ascending"}},
		{"NaN end", 0, nan, 0, 1, 0.1, []string{"NaN", "along x"}},
		{"infinite end", 0, 1, 0, inf, 0.1, []string{"+Inf", "along z"}},
		{"too many columns", 0, 1, 0, 1, 1e-12, []string{"pixels along x", "want 1 to"}},
		{"too many pixels", 0, 1, 0, 1, 1e-5, []string{"pixels", "at most"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := NewSection(test.x0, test.x1, test.z0, test.z1, test.step)
			check.Error(t, err, test.words...)
		})
	}
	check.Error(t, Grid{}.Validate(), "step")
	check.Error(t, Grid{Origin: r3.Vec{X: nan}, Step: r3.Vec{X: 1, Y: 1, Z: 1}, Cols: 1, Rows: 1, Slices: 1}.Validate(), "origin")
	check.Error(t, Grid{Step: r3.Vec{X: 1, Y: 1, Z: 1}, Cols: 1, Rows: -1, Slices: 1}.Validate(), "-1 pixels along z")
}

// TestImageOfBadGrid checks that a grid that Validate refuses makes an image without
// pixels, of any number of pixels that it states.
func TestImageOfBadGrid(t *testing.T) {
	one := r3.Vec{X: 1, Y: 1, Z: 1}
	for _, g := range []Grid{
		{},
		{Step: one, Cols: -1, Rows: 1, Slices: 1},
		{Step: one, Cols: 1 << 30, Rows: 1 << 30, Slices: 1},
		{Step: one, Cols: math.MinInt, Rows: 1, Slices: 1},
		{Step: r3.Vec{X: math.NaN(), Y: 1, Z: 1}, Cols: 1, Rows: 1, Slices: 1},
	} {
		im := NewImage(g)
		if len(im.Data) != 0 || g.Validate() == nil {
			t.Errorf("%+v: image of %d pixels", g, len(im.Data))
		}
		if e := im.Envelope(nil); len(e.Data) != 0 {
			t.Errorf("%+v: envelope of %d pixels", g, len(e.Data))
		}
	}
}

func TestEnvelope(t *testing.T) {
	g := check.Must(NewVolume(r3.Vec{}, r3.Vec{X: 1, Y: 1, Z: 1}, r3.Vec{X: 1, Y: 1, Z: 1}))
	im := NewImage(g)
	copy(im.Data, []complex64{3 + 4i, -5, 12i, 0, 1, 1i, -6 - 8i, 2})
	e := im.Envelope(nil)
	if want := []float32{5, 5, 12, 0, 1, 1, 10, 2}; !cmp.Equal(e.Data, want) {
		t.Errorf("envelope %v, want %v", e.Data, want)
	}
	if amplitude, index := e.Peak(); amplitude != 12 || index != 2 {
		t.Errorf("peak %v at %d, want 12 at 2", amplitude, index)
	}
	s := e.Section(1)
	if want := []float32{1, 1, 10, 2}; !cmp.Equal(s.Data, want) || s.Slices != 1 || s.Origin.Y != 1 {
		t.Errorf("slice %v of grid %+v, want %v", s.Data, s.Grid, want)
	}
	im.Data[0], im.Data[1] = 3e30+4e30i, 3e-30-4e-30i
	if got := im.Envelope(nil).Data; got[0] != 5e30 || got[1] != 5e-30 {
		t.Errorf("envelope %v and %v, want 5e30 and 5e-30", got[0], got[1])
	}
	if again := im.Envelope(e); again != e {
		t.Error("the envelope was not used again")
	}
	if amplitude, index := (&Envelope{Grid: g, Data: make([]float32, 8)}).Peak(); amplitude != 0 || index != 0 {
		t.Errorf("peak of zeros %v at %d", amplitude, index)
	}
}

func TestPeakNear(t *testing.T) {
	e := &Envelope{Grid: check.Must(NewSection(0, 3, 0, 2, 1)), Data: []float32{
		1, 2, 9, 4,
		3, 0, 5, 5,
		8, 0, 0, 0,
	}}
	for _, row := range []struct {
		name      string
		x, z, r   float64
		amplitude float32
		index     int
	}{
		{"the highest of all", 1, 1, 9, 9, 2},
		{"a pixel at the radius counts", 0, 0, 1, 3, 4},
		{"of equal pixels the first", 2.5, 1, 0.6, 5, 6},
		{"zero is an amplitude", 1, 2, 0.1, 0, 9},
		{"no pixel within the radius", 0.5, 0.5, 0.5, 0, -1},
		{"beyond the grid", 50, 0, 1, 0, -1},
		{"no radius", 1, 1, math.NaN(), 0, -1},
	} {
		if a, i := e.PeakNear(r3.Vec{X: row.x, Z: row.z}, row.r); a != row.amplitude || i != row.index {
			t.Errorf("%s: %v at pixel %d, want %v at %d", row.name, a, i, row.amplitude, row.index)
		}
	}
}

func TestDecibels(t *testing.T) {
	g := check.Must(NewSection(0, 4, 0, 0, 1))
	e := &Envelope{Grid: g, Data: []float32{2, 1, 0.2, 0, 4}}
	d, err := e.Decibels(nil, 2, -20)
	if err != nil {
		t.Fatal(err)
	}
	// 20·log10 of the ratios 1, 1/2, 1/10, 0 and 2.
	for i, want := range []float64{0, -6.0206, -20, -20, 6.0206} {
		if got := d.Z(i, 0); !(math.Abs(got-want) <= 1e-4) {
			t.Errorf("pixel %d at %v dB, want %v", i, got, want)
		}
	}
	// A level on the grey ramp, and outside the picture nothing.
	for x, want := range map[int]color.Color{
		0:  color.RGBA{255, 255, 255, 255},
		1:  color.RGBA{178, 178, 178, 255}, // 255·(1 - 6.0206/20)
		3:  color.RGBA{0, 0, 0, 255},
		4:  color.RGBA{255, 255, 255, 255},
		5:  color.RGBA{},
		-1: color.RGBA{},
	} {
		if got := d.At(x, 0); got != want {
			t.Errorf("colour %v at x = %d, want %v", got, x, want)
		}
	}
	d.Palette = color.Palette{color.RGBA{1, 0, 0, 255}, color.RGBA{2, 0, 0, 255}, color.RGBA{3, 0, 0, 255}}
	for x, want := range []color.Color{d.Palette[2], d.Palette[1], d.Palette[0], d.Palette[0], d.Palette[2]} {
		if got := d.At(x, 0); got != want {
			t.Errorf("colour %v at x = %d, want %v", got, x, want)
		}
	}
	if d.Bounds() != image.Rect(0, 0, 5, 1) || d.ColorModel() != color.RGBAModel {
		t.Errorf("bounds %v", d.Bounds())
	}
	nan := math.NaN()
	for _, bad := range []struct {
		reference, floor float64
		words            []string
	}{
		{-1, -20, []string{"reference", "-1"}},
		{nan, -20, []string{"reference", "NaN"}},
		{1, 0, []string{"floor", "below 0"}},
		{1, nan, []string{"floor", "NaN"}},
		{1, math.Inf(-1), []string{"floor", "-Inf"}},
	} {
		_, err := e.Decibels(nil, float32(bad.reference), bad.floor)
		check.Error(t, err, bad.words...)
	}
}

// TestDecibelsOfPeak: reference 0 stands for the highest value, which zeros do not have.
func TestDecibelsOfPeak(t *testing.T) {
	e := &Envelope{Grid: check.Must(NewSection(0, 2e-3, 1e-3, 1e-3, 1e-3)), Data: []float32{1, 8, 4}}
	want := check.Must(e.Decibels(nil, 8, -20))
	if diff := cmp.Diff(want, check.Must(e.Decibels(nil, 0, -20))); diff != "" {
		t.Error(diff)
	}
	clear(e.Data)
	_, err := e.Decibels(nil, 0, -20)
	check.Error(t, err, "reference amplitude 0", "all values are 0")
}

// TestImageMark: an image has no states before a pixel has one, and a pixel keeps each state.
func TestImageMark(t *testing.T) {
	im := NewImage(check.Must(NewSection(0, 2e-3, 1e-3, 1e-3, 1e-3)))
	im.mark(0, 0)
	if im.States != nil {
		t.Errorf("states %v without a mark, want nil", im.States)
	}
	im.mark(1, NoRay)
	im.mark(1, Blank)
	im.mark(2, 0)
	if diff := cmp.Diff([]State{0, NoRay | Blank, 0}, im.States); diff != "" {
		t.Errorf("states (-want +got):\n%s", diff)
	}
}
