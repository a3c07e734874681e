// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot/vg"

	"github.com/isochron-imaging/isochron/tfm"
)

// TestLabels checks that labels stay inside the image. If there is room, labels cover neither each
// other nor a cross.
func TestLabels(t *testing.T) {
	area := vg.Rectangle{Max: vg.Point{X: 400, Y: 250}}
	corners := []vg.Point{{}, {X: 400}, {Y: 250}, {X: 400, Y: 250}, {X: 200}, {Y: 125}}
	crowd := []vg.Point{{X: 100, Y: 100}, {X: 104, Y: 100}, {X: 108, Y: 102}, {X: 100, Y: 106}}
	rng := rand.New(rand.NewPCG(1, 1))
	var scattered []vg.Point
	for range 25 {
		x, y := 400*rng.Float64(), 250*rng.Float64()
		scattered = append(scattered, vg.Point{X: vg.Length(x), Y: vg.Length(y)})
	}
	for _, test := range []struct {
		name   string
		points []vg.Point
	}{{"corners and edges", corners}, {"a crowd", crowd}, {"scattered", scattered}} {
		t.Run(test.name, func(t *testing.T) {
			l := layout{area: area}
			for _, p := range test.points {
				l.taken = append(l.taken, around(p, cross+1, cross+1))
			}
			for _, p := range test.points {
				box := l.place(p, 8, 6)
				if box.Min.X < area.Min.X || box.Min.Y < area.Min.Y ||
					box.Max.X > area.Max.X || box.Max.Y > area.Max.Y {
					t.Errorf("label of %v in %v is partly outside %v", p, box, area)
				}
				for _, other := range l.taken[:len(l.taken)-1] {
					if overlap(box, other) > 0 {
						t.Errorf("label of %v in %v covers %v", p, box, other)
					}
				}
			}
		})
	}
}

// TestWrap checks that no line of a wrapped text is wider than the given width, and that no word is
// lost.
func TestWrap(t *testing.T) {
	const width = 20 * vg.Centimeter
	for _, text := range []string{
		"", "short", strings.Repeat("many words ", 60), strings.Repeat("x", 1000),
		"bell \a escape \x1b[31m and a broken \xff byte",
	} {
		lines := wrap(titleStyle, text, width)
		for _, line := range lines {
			if w := titleStyle.Width(line); w > width {
				t.Errorf("line %q is %v wide, want %v at most", line, w, width)
			}
			if strings.ContainsAny(line, "\a\x1b") {
				t.Errorf("line %q holds a control character", line)
			}
		}
		squeeze := func(s string) string { return strings.Join(strings.Fields(printable(s)), "") }
		if got, want := squeeze(strings.Join(lines, "")), squeeze(text); got != want {
			t.Errorf("%q of %q", got, want)
		}
	}
}

// TestLongTitle checks that a long title and a long caption do not change the map. They end inside
// the picture: its outermost columns are white.
func TestLongTitle(t *testing.T) {
	levels := dark30(t)
	short := drawn(t, &Section{Levels: levels})
	m := drawn(t, &Section{
		Levels: levels,
		Title:  strings.Repeat("long title ", 40), Caption: strings.Repeat("caption", 200),
	})
	got, want := mapArea(m).Size(), mapArea(short).Size()
	if d := got.Sub(want); max(d.X, -d.X, d.Y, -d.Y) > 1 { // the edges lie between pixels
		t.Errorf("map of %v under a long title, want %v", got, want)
	}
	b := m.Bounds()
	for y := range b.Max.Y {
		for _, x := range []int{0, 1, b.Max.X - 2, b.Max.X - 1} {
			if c := color.GrayModel.Convert(m.At(x, y)).(color.Gray); c.Y < 255 {
				t.Fatalf("the text reaches column %d of %d", x, b.Max.X)
			}
		}
	}
}

// TestBar checks, on an image of one colour, that the colour bar is as high as the map and has a
// margin on its right side.
func TestBar(t *testing.T) {
	levels := dark30(t)
	levels.Palette = color.Palette{color.RGBA{R: 255, A: 255}, color.RGBA{R: 255, A: 255}}
	m := drawn(t, &Section{Levels: levels})
	red := func(r, g, b uint8) bool { return r > 200 && g < 100 && b < 100 }
	b := m.Bounds()
	cut := m.(interface {
		SubImage(image.Rectangle) image.Image
	}).SubImage
	area := extent(cut(image.Rect(0, 0, b.Max.X*4/5, b.Max.Y)), red)
	bar := extent(cut(image.Rect(b.Max.X*9/10, 0, b.Max.X, b.Max.Y)), red)
	if d := bar.Min.Y - area.Min.Y; bar.Empty() || d < -1 || d > 1 {
		t.Errorf("bar in %v beside a map in %v", bar, area)
	}
	if d := bar.Max.Y - area.Max.Y; d < -1 || d > 1 {
		t.Errorf("bar in %v beside a map in %v", bar, area)
	}
	if right := b.Max.X - bar.Max.X; right < 20 {
		t.Errorf("%d pixels of margin beside the bar, want at least 20", right)
	}
}

// TestReduced checks that an image with more pixels than the picture keeps its peak.
func TestReduced(t *testing.T) {
	g, err := tfm.NewSection(0, 5, 0, 0.002, 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	d := &tfm.Decibels{Grid: g, Floor: -40, Data: make([]float32, g.Len())}
	for i := range d.Data {
		d.Data[i] = -40
	}
	d.Data[4999] = -3
	small := reduced(d)
	if small.Cols > sharpest || len(small.Data) != small.Cols*small.Rows {
		t.Fatalf("%d × %d pixels and %d values", small.Cols, small.Rows, len(small.Data))
	}
	for i, v := range small.Data {
		want := float32(-40)
		if i == 4999/3 {
			want = -3
		}
		if v != want {
			t.Fatalf("value %d is %v, want %v", i, v, want)
		}
	}
}

// TestBlank checks that pixels without data are grey. In this image they are the right half.
func TestBlank(t *testing.T) {
	levels := dark30(t)
	area := mapArea(drawn(t, &Section{Levels: levels}))
	levels.States = make([]tfm.State, len(levels.Data))
	for i := range levels.States {
		if i%levels.Cols >= levels.Cols/2 {
			levels.States[i] = tfm.Blank | tfm.NoRay
		}
	}
	m := drawn(t, &Section{Levels: levels})
	for _, test := range []struct {
		x    int
		want color.Color
	}{{area.Min.X + area.Dx()/4, color.RGBA{A: 255}}, {area.Max.X - area.Dx()/4, blankColour}} {
		if got := color.RGBAModel.Convert(m.At(test.x, (area.Min.Y+area.Max.Y)/2)); got != test.want {
			t.Errorf("colour %v at column %d, want %v", got, test.x, test.want)
		}
	}
}

// pictures returns one picture of each kind.
func pictures(t testing.TB) map[string]interface {
	WritePNG(io.Writer) error
	WriteSVG(io.Writer) error
} {
	line := []r2.Vec{{X: 1e-3, Y: 1e-3}, {X: 40e-3, Y: 9e-3}}
	mark := Mark{At: r2.Vec{X: 19.9e-3, Y: 0.1e-3}, Label: "12", Contour: line}
	return map[string]interface {
		WritePNG(io.Writer) error
		WriteSVG(io.Writer) error
	}{
		"section": &Section{
			Title: "<title>", Caption: "5 > 3", Levels: dark30(t),
			Part: [][]r2.Vec{line}, Weld: [][]r2.Vec{line}, Reflectors: [][]r2.Vec{line},
			Marks: []Mark{mark, {Wall: true}},
		},
		"drawing": &Drawing{
			Title: "drawing", To: r2.Vec{X: 0.02, Y: 0.01},
			Lines: []Line{{Points: line, Name: "line", Dashed: true}},
		},
		"chart": &Chart{
			X: Axis{Label: "time / µs", To: 1}, Y: Axis{Label: "level / dB", From: -60},
			Lines: []Line{{Points: line, Name: "line"}},
		},
	}
}

// TestFormats checks that each kind of picture is a PNG and a well-formed SVG, and that repeated
// pictures have the same bytes.
func TestFormats(t *testing.T) {
	for name, p := range pictures(t) {
		t.Run(name, func(t *testing.T) {
			var raster, vector, again bytes.Buffer
			err := errors.Join(p.WritePNG(&raster), p.WriteSVG(&vector), p.WriteSVG(&again))
			if err != nil {
				t.Fatal(err)
			}
			if c, err := png.DecodeConfig(&raster); err != nil || c.Width < 400 || c.Height < 200 {
				t.Errorf("PNG of %d × %d pixels, %v", c.Width, c.Height, err)
			}
			if !bytes.Equal(vector.Bytes(), again.Bytes()) {
				t.Error("two pictures of the same are different")
			}
			if name == "section" && !bytes.Contains(vector.Bytes(), []byte("data:image/png;base64")) {
				t.Error("the SVG holds no PNG")
			}
			d := xml.NewDecoder(&vector)
			for {
				if _, err := d.Token(); err == io.EOF {
					break
				} else if err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}

// full is a writer that always fails, as a full disk does.
type full struct{}

var errFull = errors.New("full")

func (full) Write([]byte) (int, error) { return 0, errFull }

func TestWriterFails(t *testing.T) {
	for name, p := range pictures(t) {
		if err := p.WritePNG(full{}); !errors.Is(err, errFull) {
			t.Errorf("%s as PNG: %v", name, err)
		}
		if err := p.WriteSVG(full{}); !errors.Is(err, errFull) {
			t.Errorf("%s as SVG: %v", name, err)
		}
	}
}

// TestErrors checks that a field out of range gives an error that names it, and no output.
func TestErrors(t *testing.T) {
	line := []r2.Vec{{}, {X: 1}}
	nan := []r2.Vec{{}, {X: math.NaN()}}
	section := func(change func(*Section)) *Section {
		s := &Section{Levels: dark30(t)}
		change(s)
		return s
	}
	for _, test := range []struct {
		word string
		p    interface{ WritePNG(io.Writer) error }
	}{
		{"Levels are missing", &Section{}},
		{"Levels: wedge: step 0 m", section(func(s *Section) { s.Levels.Step.X = 0 })},
		{"Levels of 1 slices and 3 values", section(func(s *Section) { s.Levels.Data = s.Levels.Data[:3] })},
		{"Levels of 2 slices", section(func(s *Section) { s.Levels.Slices = 2 })},
		{"Levels.States of length 1", section(func(s *Section) { s.Levels.States = make([]tfm.State, 1) })},
		{"Levels.Floor 0 dB", section(func(s *Section) { s.Levels.Floor = 0 })},
		{"Levels.Palette of 1 colour", section(func(s *Section) { s.Levels.Palette = color.Palette{color.Black} })},
		{"Part[1] of length 1", section(func(s *Section) { s.Part = [][]r2.Vec{line, line[:1]} })},
		{"Weld[0], point 1", section(func(s *Section) { s.Weld = [][]r2.Vec{nan} })},
		{"Reflectors[0]", section(func(s *Section) { s.Reflectors = [][]r2.Vec{nil} })},
		{"Ghosts[0].Lines[0]", section(func(s *Section) { s.Ghosts = []Ghost{{Lines: [][]r2.Vec{nan}}} })},
		{"Marks[0].At", section(func(s *Section) { s.Marks = []Mark{{At: nan[1]}} })},
		{"Marks[0].Contour", section(func(s *Section) { s.Marks = []Mark{{Contour: nan}} })},
		{"x of From and To from 1 to 1", &Drawing{From: r2.Vec{X: 1}, To: r2.Vec{X: 1, Y: 1}}},
		{"z of From and To", &Drawing{To: r2.Vec{X: 1, Y: math.Inf(1)}}},
		{"Lines[0].Points", &Drawing{To: r2.Vec{X: 1, Y: 1}, Lines: []Line{{}}}},
		{"Lines[1].Width -1", &Chart{
			X: Axis{To: 1}, Y: Axis{To: 1},
			Lines: []Line{{Points: line}, {Points: line, Width: -1}},
		}},
		{"X from 0 to 0", &Chart{Y: Axis{To: 1}}},
		{"Y from NaN to 1", &Chart{X: Axis{To: 1}, Y: Axis{From: math.NaN(), To: 1}}},
	} {
		t.Run(test.word, func(t *testing.T) {
			var out bytes.Buffer
			err := test.p.WritePNG(&out)
			if err == nil || !strings.Contains(err.Error(), test.word) || out.Len() > 0 {
				t.Errorf("error %v and %d bytes, want one that says %q and none", err, out.Len(), test.word)
			}
		})
	}
}

// TestExtremes checks that extreme allowed values do not cause a panic.
func TestExtremes(t *testing.T) {
	for _, size := range []float64{1e-12, 1, 1e300} {
		for _, ratio := range []float64{1e-9, 1e5} {
			for _, offset := range []float64{0, -1e9} {
				t.Run(fmt.Sprintf("%v × %v at %v", size, ratio, offset), func(t *testing.T) {
					d := &Drawing{From: r2.Vec{X: offset}, To: r2.Vec{X: offset + size, Y: size * ratio}}
					d.Lines = []Line{{Points: []r2.Vec{d.From, d.To}}}
					err := d.WritePNG(io.Discard)
					if offset+size > offset && err != nil {
						t.Error(err)
					}
				})
			}
		}
	}
}
