// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

// grid returns the grid of a view: the ranges of the flags, or where there is
// none, one that the set-up suggests. It lies in the section of the array.
func grid(o *options, r *npy.Record, v wedge.View) (tfm.Grid, error) {
	x, z := suggestX(r), suggestZ(r, v)
	if o.x != nil {
		x = *o.x
	}
	if o.z != nil {
		z = *o.z
	}
	g, err := tfm.NewSection(x.from, x.to, z.from, z.to, o.step)
	if err != nil {
		return g, err
	}
	g.Origin.Y = r.Capture.Array.Elements[0].Y
	for i, e := range r.Capture.Array.Elements {
		if e.Y != g.Origin.Y {
			return g, fmt.Errorf("element %d at y = %v mm, element 0 at %v mm: want an array in one section of constant y", i, e.Y*1e3, g.Origin.Y*1e3)
		}
	}
	return g, nil
}

// suggestX returns a range along the surface in whole millimetres: as wide as the
// array, and a little more, in normal incidence; before a wedge, as far from
// where the middle of the array points as beams of 14 to 63 degrees reach.
func suggestX(r *npy.Record) span {
	elements, thickness := r.Capture.Array.Elements, r.Setup.Part.Thickness
	first, last := elements[0], elements[len(elements)-1]
	if first.X > last.X {
		first, last = last, first
	}
	x := span{first.X - thickness/4, last.X + thickness/4}
	if first.Z != last.Z && first.X != last.X {
		// The normal of the array, downwards, leaves its middle and meets z = 0.
		slope := (last.Z - first.Z) / (last.X - first.X)
		exit := (first.X+last.X)/2 + slope*(first.Z+last.Z)/2
		near, far := thickness/4, 2*thickness
		if slope > 0 { // the array falls towards +x, and fires towards -x
			near, far = -far, -near
		}
		x = span{exit + near, exit + far}
	}
	return span{math.Floor(x.from*1e3) * 1e-3, math.Ceil(x.to*1e3) * 1e-3}
}

// suggestZ returns a range in depth in whole millimetres: from below the echoes of
// the entry surface to beyond the far one.
func suggestZ(r *npy.Record, v wedge.View) span {
	part := r.Setup.Part
	slowest := part.Longitudinal
	for _, modes := range [][]material.Mode{v.Transmit, v.Receive} {
		for _, m := range modes {
			if m == material.T {
				slowest = part.Transverse
			}
		}
	}
	// The ring-down of the elements, or the echo of the surface, lasts two to three
	// wavelengths (common practice, no source).
	dead := 2.0
	if r.Setup.Coupling == nil {
		dead = 3
	}
	top := min(dead*slowest/r.Capture.Array.CentreFrequency, part.Thickness/4)
	return span{math.Floor(top*1e3) * 1e-3, (math.Ceil(part.Thickness*1e3) + 1) * 1e-3}
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
