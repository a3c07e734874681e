// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
)

// Reflectors returns the outlines of the reflectors that are known to be in a part, in metres: the
// Reflectors of a [Section].
func Reflectors(t npy.Truth) (lines [][]r2.Vec) {
	for _, h := range t.Holes {
		lines = append(lines, Circle(h.X, h.Z, h.Diameter/2))
	}
	for _, s := range t.Slits {
		lines = append(lines, []r2.Vec{{X: s.X0, Y: s.Z0}, {X: s.X1, Y: s.Z1}})
	}
	return lines
}

// Surfaces returns the lines of the surfaces of a part across a grid, in metres: the Part of a
// [Section]. The set-up is valid.
func Surfaces(s *wedge.Setup, g tfm.Grid) (lines [][]r2.Vec) {
	const points = 400
	for _, w := range ghost.Walls(s) {
		var line []r3.Vec
		width := float64(g.Cols) * g.Step.X
		for i := range points + 1 {
			// The line goes beyond both ends of the grid, because a curved surface is longer.
			x := g.Origin.X - width/2 + 2*width*float64(i)/points
			u, v := w.Surface.Locate(r3.Vec{X: x, Z: g.Origin.Z})
			line = append(line, w.Surface.At(u, v).P)
		}
		lines = append(lines, Project(line))
	}
	return lines
}

// Ghosts returns the lines of predicted ghosts without labels: the Ghosts of a [Section].
func Ghosts(predicted []ghost.Ghost) []Ghost {
	shown := make([]Ghost, len(predicted))
	for i, g := range predicted {
		for _, line := range g.Lines {
			shown[i].Lines = append(shown[i].Lines, Project(line))
		}
	}
	return shown
}
