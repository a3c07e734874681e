// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestThrough: the places of a point in several scans of one part.
func TestThrough(t *testing.T) {
	along := Grid{Along: Axis{Step: 1e-3, Steps: 501}}
	pipe := Pipe{Radius: 0.1}
	turn := pipe.Circumference()
	over := Grid{Along: Axis{From: -10e-3, Step: 1e-3, Steps: int(turn/1e-3) + 30}}
	tests := []struct {
		name   string
		pieces []Piece
		q      r3.Vec
		want   string // piece: along, across, x, z in mm
	}{
		{"a weld from both sides, the second side backward", []Piece{
			{"side A", Line{X: -20e-3}, along},
			{"side B", Line{X: 20e-3, Y: 0.5, Heading: math.Pi, Skew: math.Pi}, along},
		}, r3.Vec{X: 2e-3, Y: 0.1, Z: 8e-3}, "0: 100 0 22 8, 1: 400 0 18 8"},
		{"two lengths that meet", []Piece{
			{"first", Line{}, along}, {"second", Line{Y: 0.5}, along},
		}, r3.Vec{X: 2e-3, Y: 0.7, Z: 8e-3}, "1: 200 0 2 8"},
		{"both hold the joint", []Piece{
			{"first", Line{}, along}, {"second", Line{Y: 0.5}, along},
		}, r3.Vec{X: 2e-3, Y: 0.5, Z: 8e-3}, "0: 500 0 2 8, 1: 0 0 2 8"},
		{"raster of three lines", []Piece{
			{"raster", Line{}, Grid{along.Along, Axis{From: 10e-3, Step: 5e-3, Steps: 3}}},
		}, r3.Vec{X: 12e-3, Y: 0.1, Z: 8e-3}, "0: 100 10 2 8, 0: 100 15 -3 8, 0: 100 20 -8 8"},
		{"half a step beyond the end", []Piece{{"", Line{}, along}}, r3.Vec{Y: 0.5004}, "0: 500.4 0 0 0"},
		{"a step beyond the end", []Piece{{"", Line{}, along}}, r3.Vec{Y: 0.501}, ""},
		{"seen twice near the seam", []Piece{{"", Round{Pipe: pipe}, over}}, r3.Vec{Z: 8e-3},
			"0: 0 0 0 8, 0: 628.3 0 0 8"},
		{"below position 0", []Piece{{"", Round{Pipe: pipe}, over}},
			r3.Vec{Y: -0.1 * math.Sin(0.05), Z: 0.1 - 0.1*math.Cos(0.05)},
			"0: -5 0 0 0, 0: 623.3 0 0 0"},
		{"a closed turn is seen once", []Piece{
			{"", Round{Pipe: pipe}, Grid{Along: check.Must(pipe.Axis(1e-3))}},
		}, r3.Vec{Z: 8e-3}, "0: 0 0 0 8"},
		{"no frame holds the point", []Piece{
			{"", Round{Pipe: pipe, Skew: math.Pi / 4}, over}, {"", Line{}, along},
		}, r3.Vec{X: 0.2, Y: 0.1}, "1: 100 0 200 0"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			places, err := Through(test.pieces, test.q)
			if err != nil {
				t.Fatal(err)
			}
			got := ""
			for i, p := range places {
				if i > 0 {
					got += ", "
				}
				got += fmt.Sprintf("%d: %.4g %.4g %.4g %.4g", p.Piece, millimetres(p.Along), millimetres(p.Across),
					millimetres(p.X), millimetres(p.Z))
			}
			if diff := cmp.Diff(test.want, got); diff != "" {
				t.Errorf("places (-want +got):\n%s", diff)
			}
		})
	}
}

// millimetres returns a length in mm, to 1e-9 mm: a zero with a rounding error is 0.
func millimetres(v float64) float64 { return math.Round(v*1e12)/1e9 + 0 }

func TestThroughRefuses(t *testing.T) {
	along := Grid{Along: Axis{Step: 1e-3, Steps: 2}}
	tests := []struct {
		name  string
		piece Piece
		q     r3.Vec
		want  []string
	}{
		{"point", Piece{"A", Line{}, along}, r3.Vec{X: math.NaN()}, []string{"x of the point NaN"}},
		{"no path", Piece{"A", nil, along}, r3.Vec{}, []string{"no path", `piece 0, "A"`}},
		{"no steps", Piece{"A", Line{}, Grid{}}, r3.Vec{}, []string{"step of the axis along 0"}},
		{"path", Piece{"A", Line{Skew: math.NaN()}, along}, r3.Vec{}, []string{"skew", `"A"`}},
		{"too many turns", Piece{"A", Round{Pipe: Pipe{Radius: 1e-9}}, along}, r3.Vec{},
			[]string{"at most 1000 turns"}},
	}
	for _, test := range tests {
		_, err := Through([]Piece{test.piece}, test.q)
		check.Error(t, err, test.want...)
	}
}
