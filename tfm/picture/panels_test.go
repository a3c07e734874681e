// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"bytes"
	"image"
	"image/color"
	"io"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"

	"github.com/isochron-imaging/isochron/internal/check"
)

// square returns a chart of one thick line of a colour, and a title.
func square(title string, c color.Color) *Chart {
	return &Chart{
		Title: title, X: Axis{"x", 0, 1}, Y: Axis{"y", 0, 1},
		Lines: []Line{{Points: []r2.Vec{{X: 0, Y: 0.5}, {X: 1, Y: 0.5}}, Colour: c, Width: 20}},
	}
}

// TestPanels checks that the panels lie in reading order: the middles of their lines lie in the
// left or the right half, and in the upper or the lower half.
func TestPanels(t *testing.T) {
	red, green, blue := color.RGBA{R: 255, A: 255}, color.RGBA{G: 255, A: 255}, color.RGBA{B: 255, A: 255}
	m := drawn(t, &Panels{Columns: 2, Pictures: []Picture{square("a", red), square("b", green), square("c", blue)}})
	size := m.Bounds().Size()
	for _, test := range []struct {
		name        string
		colour      color.RGBA
		right, down bool
	}{{"first", red, false, false}, {"second", green, true, false}, {"third", blue, false, true}} {
		at := centroid(m, test.colour)
		if right, down := at.X > float64(size.X)/2, at.Y > float64(size.Y)/2; right != test.right || down != test.down {
			t.Errorf("%s panel at %v of %v", test.name, at, size)
		}
	}
}

// centroid returns the mean place of the pixels of a colour, or NaN without such pixels.
func centroid(m image.Image, c color.Color) (at r2.Vec) {
	count := 0.
	b := m.Bounds()
	for y := range b.Max.Y {
		for x := range b.Max.X {
			if color.RGBAModel.Convert(m.At(x, y)) == c {
				at = r2.Add(at, r2.Vec{X: float64(x), Y: float64(y)})
				count++
			}
		}
	}
	return r2.Scale(1/count, at)
}

// TestPanelSizes checks that panels of every kind fit into the room of panels, with titles,
// captions and keys beyond it, and that nested panels are smaller.
func TestPanelSizes(t *testing.T) {
	section := &Section{Levels: dark30(t)}
	drawing := &Drawing{To: r2.Vec{X: 1, Y: 1}}
	chart := square("", color.Black)
	for _, p := range []*Panels{
		{Pictures: []Picture{section}},
		{Pictures: []Picture{section, drawing, chart}},
		{Columns: 2, Pictures: []Picture{section, drawing, chart, section, drawing}},
		{Pictures: []Picture{chart, &Panels{Columns: 1, Pictures: []Picture{chart, chart}}}},
	} {
		f := check.Must(p.figure(panelsRoom))
		if !(f.width <= panelsRoom.width+1e-6) || !(f.height <= panelsRoom.height+1e-6) {
			t.Errorf("%d panels in %d columns: %v × %v points", len(p.Pictures), p.Columns, f.width, f.height)
		}
	}
	wide := check.Must((&Panels{Pictures: []Picture{drawing}}).figure(panelsRoom))
	narrow := check.Must((&Panels{Pictures: []Picture{drawing, drawing, drawing}}).figure(panelsRoom))
	if ratio := float64(narrow.width / (3 * wide.width)); !(math.Abs(ratio-0.64) < 0.36) {
		t.Errorf("three panels are %v times as wide as one", 3*ratio)
	}
	if sum([]vg.Length{1, 2, 3}) != 6 {
		t.Error("sum of lengths")
	}
}

// TestPanelErrors checks that bad panels are named, and that nothing is written.
func TestPanelErrors(t *testing.T) {
	good := square("", color.Black)
	for _, test := range []struct {
		name string
		p    Panels
		want string
	}{
		{"none", Panels{}, "Pictures are missing"},
		{"nil", Panels{Pictures: []Picture{good, nil}}, "Pictures[1] is missing"},
		{"columns below 0", Panels{Columns: -1, Pictures: []Picture{good}}, "Columns -1: want 1 to 6"},
		{"many columns", Panels{Columns: 7, Pictures: []Picture{good}}, "Columns 7: want 1 to 6"},
		{"many in one row", Panels{Pictures: make([]Picture, 8)}, "Columns 8: want 1 to 6"},
		{"a bad panel", Panels{Pictures: []Picture{good, new(Chart)}}, "Pictures[1]: picture: X from 0 to 0"},
	} {
		t.Run(test.name, func(t *testing.T) {
			for _, write := range []func(io.Writer) error{test.p.WritePNG, test.p.WriteSVG} {
				var out bytes.Buffer
				check.Error(t, write(&out), test.want)
				if out.Len() > 0 {
					t.Error("something was written")
				}
			}
		})
	}
}

// TestSectionLines checks that a line over an image is drawn in its colour, white by default, and
// has a key only if it has a name.
func TestSectionLines(t *testing.T) {
	points := []r2.Vec{{X: 5e-3, Y: 5e-3}, {X: 15e-3, Y: 5e-3}}
	green := color.RGBA{G: 255, A: 255}
	s := &Section{Levels: dark30(t), Lines: []Line{{Points: points, Colour: green, Width: 6}, {Points: points[:2], Name: "ray"}}}
	if keys := check.Must(s.figure(wholeRoom)).keys; len(keys) != 1 || keys[0].name != "ray" || keys[0].lines[0].Color != color.White {
		t.Errorf("keys %v, want the white ray", keys)
	}
	s.Lines = append(s.Lines, s.Lines[1], Line{Points: points, Name: "ray", Dashed: true}, Line{Points: points, Name: "edge"})
	if keys := check.Must(s.figure(wholeRoom)).keys; len(keys) != 3 {
		t.Errorf("%d keys, want those of rays, dashed rays and the edge", len(keys))
	}
	if keys := keysOf(s.Lines); len(keys) != 3 {
		t.Errorf("%d keys of lines without an image, want 3", len(keys))
	}
	m := drawn(t, &Section{Levels: s.Levels, Lines: s.Lines[:1]})
	area := mapArea(m)
	at := centroid(m, green)
	middle := area.Min.Add(area.Max).Div(2)
	if !(math.Abs(at.X-float64(middle.X)) <= 3) || !(math.Abs(at.Y-float64(middle.Y)) <= 3) {
		t.Errorf("green line about %v, want %v", at, middle)
	}
	s.Lines[1].Points = points[:1]
	check.Error(t, s.WritePNG(io.Discard), "Lines[1].Points of length 1")
}

// TestNarrow checks that the axis of a narrow section ends where the section ends, alone and in
// panels of two rows, and that the labels of the axis do not touch.
func TestNarrow(t *testing.T) {
	for _, test := range []struct {
		name string
		r    room
		to   r2.Vec // m
	}{
		{"in a small panel", room{16 * vg.Centimeter, 8 * vg.Centimeter}, r2.Vec{X: 12e-3, Y: 10e-3}},
		{"in one of six panels", room{11 * vg.Centimeter, 8 * vg.Centimeter}, r2.Vec{X: 11.1e-3, Y: 24.1e-3}},
		{"alone and tall", wholeRoom, r2.Vec{X: 10e-3, Y: 40e-3}},
		{"alone and wide", wholeRoom, r2.Vec{X: 40e-3, Y: 30e-3}},
	} {
		pl := newSection(r2.Vec{X: -test.to.X}, test.to)
		width, height := test.r.toScale(pl, barRoom)
		if pl.X.Max != mm(test.to.X) || pl.Y.Min != -mm(test.to.Y) {
			t.Errorf("%s: axes to %v and %v, want %v mm", test.name, pl.X.Max, -pl.Y.Min, test.to)
		}
		area := dataArea(pl, draw.NewCanvas(new(recorder.Canvas), width, height))
		last := vg.Length(math.Inf(-1))
		for _, tick := range pl.X.Tick.Marker.Ticks(pl.X.Min, pl.X.Max) {
			at := area.Min.X + vg.Length((tick.Value-pl.X.Min)/(pl.X.Max-pl.X.Min))*area.Size().X
			half := tickStyle.Width(tick.Label) / 2
			if !(at-half > last+1) {
				t.Errorf("%s: label %q touches the label before it", test.name, tick.Label)
			}
			last = at + half
		}
	}
	f := check.Must((&Drawing{Title: "a tall drawing", To: r2.Vec{X: 1e-3, Y: 1}}).figure(wholeRoom))
	if f.width < slimmest {
		t.Errorf("a tall drawing of %v points, want %v for its title", f.width, slimmest)
	}
}

// TestElastic checks that a chart is as high as the panel beside it, with titles and keys.
func TestElastic(t *testing.T) {
	drawing := &Drawing{Title: "square", To: r2.Vec{X: 1, Y: 1}}
	for _, title := range []string{"", "chart"} {
		chart := square(title, color.RGBA{R: 255, A: 255})
		chart.Lines[0].Name = "line" // keys that are not shared
		both := check.Must((&Panels{Pictures: []Picture{drawing, chart}}).figure(panelsRoom))
		alone := check.Must((&Panels{Columns: 2, Pictures: []Picture{drawing}}).figure(panelsRoom))
		if both.height != alone.height {
			t.Errorf("row of %v points, and %v for the drawing alone", both.height, alone.height)
		}
		m := drawn(t, &Panels{Pictures: []Picture{drawing, chart}})
		// The line lies half way up the axes of the chart.
		if at := centroid(m, color.RGBA{R: 255, A: 255}); !(math.Abs(at.Y/float64(m.Bounds().Dy())-0.5) < 0.1) {
			t.Errorf("middle of the chart at %v of %v", at.Y, m.Bounds().Dy())
		}
	}
}

// TestSharedKeys checks that the same keys of all panels stand once below them, and that other
// keys stay with their panels.
func TestSharedKeys(t *testing.T) {
	named := func(names ...string) Picture {
		c := square("", color.Black)
		c.Lines = nil
		for _, name := range names {
			c.Lines = append(c.Lines, Line{Points: []r2.Vec{{}, {X: 1}}, Name: name})
		}
		return c
	}
	for _, test := range []struct {
		name   string
		panels []Picture
		want   int
	}{
		{"the same", []Picture{named("a", "b"), named("a", "b"), named("a", "b")}, 2},
		{"one more", []Picture{named("a"), named("a", "b")}, 0},
		{"one panel with keys", []Picture{named("a"), named()}, 0},
		{"a panel without keys", []Picture{named(), named("a"), named("a")}, 1},
		{"another name", []Picture{named("a"), named("b")}, 0},
	} {
		if f := check.Must((&Panels{Pictures: test.panels}).figure(panelsRoom)); len(f.keys) != test.want {
			t.Errorf("%s: %d keys below the panels, want %d", test.name, len(f.keys), test.want)
		}
	}
}

// TestFloorTick checks that the lower end of a colour bar has a label, also if it is no round
// number.
func TestFloorTick(t *testing.T) {
	for floor, want := range map[float64]string{-30: "≤ -30 -25", -36: "≤ -36 -30", -46: "≤ -46 -40", -33: "≤ -33 -30"} {
		ticks := levelTicks{floor: floor}.Ticks(floor, 0)
		var labels []string
		for _, tick := range ticks[:2] {
			labels = append(labels, tick.Label)
		}
		if got := strings.Join(labels, " "); got != want {
			t.Errorf("floor %v dB: labels %q, want %q", floor, got, want)
		}
	}
}
