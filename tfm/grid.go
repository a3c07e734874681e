// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge"
)

// Grid is a regular grid of pixels: the grid for which package wedge makes tables.
type Grid = wedge.Grid

// NewSection returns the grid of one cross-section, y = 0. Its first pixel lies at (x0, z0). Its
// last pixel lies at (x1, z1) or less than one step before it. All lengths are in metres; x1 ≥ x0,
// z1 ≥ z0, step > 0.
func NewSection(x0, x1, z0, z1, step float64) (Grid, error) {
	return NewVolume(r3.Vec{X: x0, Z: z0}, r3.Vec{X: x1, Z: z1}, r3.Vec{X: step, Y: step, Z: step})
}

// NewVolume returns the grid whose first pixel lies at from and whose last
// lies, along each axis, at to or less than one step before it. All lengths
// are in metres; to ≥ from and step > 0 along each axis.
func NewVolume(from, to, step r3.Vec) (Grid, error) {
	g := Grid{Origin: from, Step: step}
	for _, axis := range []struct {
		name           string
		from, to, step float64
		count          *int
	}{
		{"x", from.X, to.X, step.X, &g.Cols},
		{"y", from.Y, to.Y, step.Y, &g.Slices},
		{"z", from.Z, to.Z, step.Z, &g.Rows},
	} {
		if !number.Positive(axis.step) {
			return Grid{}, fmt.Errorf("tfm: step %v m along %s: want a finite value above 0", axis.step, axis.name)
		}
		if !(axis.to >= axis.from && number.Finite(axis.from) && number.Finite(axis.to)) {
			return Grid{}, fmt.Errorf("tfm: range %v to %v m along %s: want finite ends in ascending order", axis.from, axis.to, axis.name)
		}
		// The allowance keeps the last pixel where the range is a whole number of
		// steps but for rounding, as 24 mm by 0.1 mm is.
		n := math.Floor((axis.to-axis.from)/axis.step+1e-6) + 1
		*axis.count = int(min(n, math.MaxInt32)) // which Validate refuses
	}
	if err := g.Validate(); err != nil {
		return Grid{}, fmt.Errorf("tfm: %w", err)
	}
	return g, nil
}
