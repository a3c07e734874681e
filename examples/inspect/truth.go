// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// outside returns a note for each known reflector that lies outside the images of all views. The
// range that the set-up suggests may miss a reflector that the beam reaches after several skips.
func outside(t npy.Truth, grids []tfm.Grid) (notes []string) {
	for _, line := range picture.Reflectors(t) {
		box := r2.Box{Min: line[0], Max: line[0]}
		for _, p := range line {
			box.Min = r2.Vec{X: min(box.Min.X, p.X), Y: min(box.Min.Y, p.Y)}
			box.Max = r2.Vec{X: max(box.Max.X, p.X), Y: max(box.Max.Y, p.Y)}
		}
		if !slices.ContainsFunc(grids, func(g tfm.Grid) bool { return shows(g, box) }) {
			notes = append(notes, fmt.Sprintf("a known reflector at x %.1f to %.1f mm, z %.1f to %.1f mm "+
				"lies outside the image: -x and -z choose the range",
				box.Min.X*1e3, box.Max.X*1e3, box.Min.Y*1e3, box.Max.Y*1e3))
		}
	}
	return notes
}

// shows reports whether a box in (x, z) and the section of g have a point in common.
func shows(g tfm.Grid, box r2.Box) bool {
	return box.Min.X <= g.X(g.Cols-1) && box.Max.X >= g.X(0) &&
		box.Min.Y <= g.Y(g.Rows-1) && box.Max.Y >= g.Y(0)
}
