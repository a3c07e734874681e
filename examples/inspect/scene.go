// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/examples/internal/picture"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// grid returns the grid of all views: the ranges of the flags, or where there is
// none, one that the set-up suggests.
func grid(o *options, r *npy.Record) (tfm.Grid, error) {
	x, z := suggest(r, o.views)
	if o.x != nil {
		x = *o.x
	}
	if o.z != nil {
		z = *o.z
	}
	return tfm.NewSection(x.from, x.to, z.from, z.to, o.step)
}

// suggest returns ranges that show the part: as deep as it is, from below the
// echoes of the entry surface; as wide as the array in normal incidence, or as far
// before a wedge as beams of 14 to 63 degrees reach.
func suggest(r *npy.Record, views []wedge.View) (x, z span) {
	part, array := r.Setup.Part, r.Capture.Array
	first, last := array.Elements[0], array.Elements[len(array.Elements)-1]
	thickness := part.Thickness
	if first.Z == last.Z {
		margin := thickness / 4
		x = span{min(first.X, last.X) - margin, max(first.X, last.X) + margin}
	} else {
		x = span{thickness / 4, 2 * thickness}
	}
	slowest := part.Longitudinal
	for _, v := range views {
		for _, m := range append(v.Transmit, v.Receive...) {
			slowest = min(slowest, speed(part, m.String()))
		}
	}
	// The ring-down of the elements, or the echo of the surface, lasts two to three
	// wavelengths (common practice, no source).
	dead := 2.0
	if r.Setup.Coupling == nil {
		dead = 3
	}
	top := dead * slowest / array.CentreFrequency
	z = span{min(top, thickness/4), thickness}
	// Whole millimetres read better.
	x = span{math.Floor(x.from*1e3) * 1e-3, math.Ceil(x.to*1e3) * 1e-3}
	z = span{math.Floor(z.from*1e3) * 1e-3, math.Ceil(z.to*1e3)*1e-3 + 1e-3}
	return x, z
}

func speed(part npy.Part, mode string) float64 {
	if mode == "T" {
		return part.Transverse
	}
	return part.Longitudinal
}

// outlines returns the surfaces of the part across a grid.
func outlines(s *wedge.Setup, g tfm.Grid) [][]r2.Vec {
	var lines [][]r2.Vec
	for _, surface := range []wedge.Surface{s.Entry, s.Back} {
		if surface == nil {
			continue
		}
		const points = 400
		var line []r2.Vec
		width := float64(g.Cols-1) * g.Step.X
		for i := range points + 1 {
			// Beyond the ends too, as the way along a curved surface is longer.
			x := g.Origin.X - width/2 + 2*width*float64(i)/points
			u, v := surface.Locate(r3.Vec{X: x, Z: g.Origin.Z})
			p := surface.At(u, v).P
			line = append(line, r2.Vec{X: p.X, Y: p.Z})
		}
		lines = append(lines, line)
	}
	return lines
}

// truth returns the reflectors that the set-up tells of.
func truth(t npy.Truth) [][]r2.Vec {
	var lines [][]r2.Vec
	for _, h := range t.Holes {
		lines = append(lines, picture.Circle(h.X, h.Z, h.Diameter/2))
	}
	for _, s := range t.Slits {
		lines = append(lines, []r2.Vec{{X: s.X0, Y: s.Z0}, {X: s.X1, Y: s.Z1}})
	}
	return lines
}
