// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"fmt"
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Line is a line of a [Drawing], a [Chart] or a [Section].
type Line struct {
	Points []r2.Vec    // at least two, finite: (x, z) in metres, or in the units of the chart's axes
	Colour color.Color // nil is black, and white in a Section
	Width  float64     // in points, finite and above 0; 0 stands for 1
	Dashed bool
	Name   string // shown below the axes once for lines that look alike, unless it is empty
}

func (l *Line) style() draw.LineStyle {
	s := draw.LineStyle{Color: l.Colour, Width: vg.Points(l.Width)}
	if l.Colour == nil {
		s.Color = color.Black
	}
	if l.Width == 0 {
		s.Width = 1
	}
	if l.Dashed {
		s.Dashes = []vg.Length{vg.Points(4), vg.Points(3)}
	}
	return s
}

// overlay returns l as it is drawn over an image: with a dark rim, and white where it has no
// colour.
func (l *Line) overlay() overlay {
	s := l.style()
	if l.Colour == nil {
		s.Color = color.White
	}
	return overlay{l.Name, [][]r2.Vec{l.Points}, rimmed(s.Color, s.Width.Points(), s.Dashes...)}
}

// plotter returns l as gonum plots it; place turns points of l into points of the plot.
func (l *Line) plotter(place func([]r2.Vec) plotter.XYs) plotter.Line {
	return plotter.Line{XYs: place(l.Points), LineStyle: l.style()}
}

// keysOf returns the keys of the lines that have names.
func keysOf(lines []Line) (keys []key) {
	for i := range lines {
		k := key{name: lines[i].Name, ground: color.White, lines: []draw.LineStyle{lines[i].style()}}
		if k.name != "" && !slices.ContainsFunc(keys, k.same) {
			keys = append(keys, k)
		}
	}
	return keys
}

func checkLines(lines []Line) error {
	for i, l := range lines {
		name := fmt.Sprintf("Lines[%d]", i)
		if !(l.Width >= 0) || math.IsInf(l.Width, 0) {
			return fmt.Errorf("picture: %s.Width %v points: want a finite value, not negative", name, l.Width)
		}
		if err := checkPolyline(name+".Points", l.Points); err != nil {
			return err
		}
	}
	return nil
}

// checkPolylines reports the first line of a field that cannot be drawn.
func checkPolylines(name string, lines [][]r2.Vec) error {
	for i, points := range lines {
		if err := checkPolyline(fmt.Sprintf("%s[%d]", name, i), points); err != nil {
			return err
		}
	}
	return nil
}

func checkPolyline(name string, points []r2.Vec) error {
	if len(points) < 2 {
		return fmt.Errorf("picture: %s of length %d: want at least 2 points", name, len(points))
	}
	return checkPoints(name, points...)
}

func checkPoints(name string, points ...r2.Vec) error {
	for i, p := range points {
		if p.X*0 != 0 || p.Y*0 != 0 {
			return fmt.Errorf("picture: %s, point %d, %v: want finite numbers", name, i, p)
		}
	}
	return nil
}

// checkRange reports whether an axis from one value to another cannot be drawn.
func checkRange(name string, from, to float64) error {
	if !(from < to) || math.IsInf(to-from, 0) {
		return fmt.Errorf("picture: %s from %v to %v: want a finite range in ascending order", name, from, to)
	}
	return nil
}

// Circle returns a closed circle of 64 sides about (x, z), all in metres.
func Circle(x, z, radius float64) []r2.Vec {
	const sides = 64
	points := make([]r2.Vec, sides+1)
	for i := range points {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / sides)
		points[i] = r2.Vec{X: x + radius*cos, Y: z + radius*sin}
	}
	return points
}

// Project returns points of a part, such as the points of a ray, as points of a section: x and z.
func Project(points []r3.Vec) []r2.Vec {
	projected := make([]r2.Vec, len(points))
	for i, p := range points {
		projected[i] = r2.Vec{X: p.X, Y: p.Z}
	}
	return projected
}
