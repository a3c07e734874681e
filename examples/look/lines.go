// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
)

// corners returns the points of a line as pairs of x and z, without points that lie on the
// straight line between their neighbours.
func corners(line []r2.Vec) [][2]float64 {
	const tolerance = 1e-9 // m
	var kept []r2.Vec
	for i, p := range line {
		if n := len(kept); n > 0 && i < len(line)-1 {
			along := r2.Sub(line[i+1], kept[n-1])
			if math.Abs(r2.Cross(r2.Sub(p, kept[n-1]), along)) <= tolerance*r2.Norm(along) {
				continue
			}
		}
		kept = append(kept, p)
	}
	points := make([][2]float64, len(kept))
	for i, p := range kept {
		points[i] = [2]float64{p.X, p.Y}
	}
	return points
}

// section returns the points of a line of the section as pairs of x and z.
func section(line []r3.Vec) [][2]float64 {
	points := make([][2]float64, len(line))
	for i, p := range line {
		points[i] = [2]float64{p.X, p.Z}
	}
	return points
}
