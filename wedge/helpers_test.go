// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

const degree = math.Pi / 180

// mm returns the point (x, 0, z), both in millimetres.
func mm(x, z float64) r3.Vec { return r3.Vec{X: x * 1e-3, Z: z * 1e-3} }

// refracting returns the path that refracts at each surface from its near side.
// Speeds are in mm/µs.
func refracting(speeds []float64, surfaces ...Surface) *Path {
	var legs []Leg
	for _, c := range speeds {
		legs = append(legs, Leg{Speed: c * 1e3})
	}
	var crossings []Crossing
	for _, s := range surfaces {
		crossings = append(crossings, Crossing{Surface: s, From: Near})
	}
	return check.Must(NewPath(legs, crossings))
}

// plateOf returns a contact set-up of a plate: thickness in mm, speeds in mm/µs.
func plateOf(thickness, longitudinal, transverse float64) *Setup {
	part := material.Isotropic{Density: 7850, Longitudinal: longitudinal * 1e3, Transverse: transverse * 1e3}
	return check.Must(NewPlate(nil, part, thickness*1e-3))
}

// snellResidual returns the deviation from Snell's law at crossing k, in s/m. It is the length of
// the difference of the slowness vectors of both legs along the surface. The speeds of the legs are
// in m/s.
func snellResidual(r *Ray, k int, before, after float64) float64 {
	d := r3.Sub(r3.Scale(1/before, r.Direction(k)), r3.Scale(1/after, r.Direction(k+1)))
	return r3.Norm(r3.Cross(d, r.Normals[k]))
}
