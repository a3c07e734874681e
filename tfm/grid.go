// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// MaxPixels is the largest number of pixels that a [Grid] may have.
const MaxPixels = 1 << 28

// Grid is a regular grid of image points: columns along x, rows along z (the
// depth) and slices along y. A cross-section has one slice.
//
// The pixel of slice s, row r and column c has the index
//
//	(s·Rows + r)·Cols + c
//
// and its centre lies at Origin + (c·Step.X, s·Step.Y, r·Step.Z).
type Grid struct {
	Origin             r3.Vec // centre of the first pixel in m, finite
	Step               r3.Vec // distance of neighbouring pixels along each axis in m, finite and above 0
	Cols, Rows, Slices int    // numbers of pixels along x, z and y, each at least 1; MaxPixels together at most
}

// NewSection returns the grid of one cross-section, y = 0, whose first pixel
// lies at (x0, z0) and whose last lies at (x1, z1) or less than one step
// before it. All lengths are in metres; x1 ≥ x0, z1 ≥ z0, step > 0.
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
		if !(axis.step > 0) || math.IsInf(axis.step, 0) {
			return Grid{}, fmt.Errorf("tfm: step %v m along %s: want a finite value above 0", axis.step, axis.name)
		}
		if !(axis.to >= axis.from) || math.IsInf(axis.from, 0) || math.IsInf(axis.to, 0) {
			return Grid{}, fmt.Errorf("tfm: range %v to %v m along %s: want finite ends in ascending order", axis.from, axis.to, axis.name)
		}
		// The allowance keeps the last pixel where the range is a whole number of
		// steps but for rounding, as 24 mm by 0.1 mm is.
		n := math.Floor((axis.to-axis.from)/axis.step+1e-6) + 1
		if n > MaxPixels {
			return Grid{}, fmt.Errorf("tfm: %.0f pixels along %s: want %d at most", n, axis.name, MaxPixels)
		}
		*axis.count = int(n)
	}
	return g, g.Validate()
}

// Validate reports the first field outside the range that its comment gives.
func (g Grid) Validate() error {
	for _, axis := range []struct {
		name         string
		origin, step float64
		count        int
	}{
		{"x", g.Origin.X, g.Step.X, g.Cols},
		{"y", g.Origin.Y, g.Step.Y, g.Slices},
		{"z", g.Origin.Z, g.Step.Z, g.Rows},
	} {
		if math.IsNaN(axis.origin) || math.IsInf(axis.origin, 0) {
			return fmt.Errorf("tfm: origin %v m along %s: want a finite value", axis.origin, axis.name)
		}
		if !(axis.step > 0) || math.IsInf(axis.step, 0) {
			return fmt.Errorf("tfm: step %v m along %s: want a finite value above 0", axis.step, axis.name)
		}
		if axis.count < 1 || axis.count > MaxPixels {
			return fmt.Errorf("tfm: %d pixels along %s: want 1 to %d", axis.count, axis.name, MaxPixels)
		}
	}
	if n := float64(g.Cols) * float64(g.Rows) * float64(g.Slices); n > MaxPixels {
		return fmt.Errorf("tfm: grid of %d × %d × %d pixels: want %d at most", g.Cols, g.Rows, g.Slices, MaxPixels)
	}
	return nil
}

// Len returns the number of pixels.
func (g Grid) Len() int { return g.Cols * g.Rows * g.Slices }

// Point returns the centre of pixel index in metres.
func (g Grid) Point(index int) r3.Vec {
	c, rest := index%g.Cols, index/g.Cols
	r, s := rest%g.Rows, rest/g.Rows
	return r3.Vec{
		X: g.Origin.X + float64(c)*g.Step.X,
		Y: g.Origin.Y + float64(s)*g.Step.Y,
		Z: g.Origin.Z + float64(r)*g.Step.Z,
	}
}

// Points returns the centres of all pixels in the order of their indices.
func (g Grid) Points() []r3.Vec {
	return slices.AppendSeq(make([]r3.Vec, 0, g.Len()), g.places())
}

// section returns the grid of slice s alone.
func (g Grid) section(s int) Grid {
	g.Origin.Y += float64(s) * g.Step.Y
	g.Slices = 1
	return g
}

// Dims returns the numbers of columns and rows. With [Grid.X] and [Grid.Y] it
// is the part of gonum plot's GridXYZ interface that every image shares.
func (g Grid) Dims() (c, r int) { return g.Cols, g.Rows }

// X returns the x of the pixels of column c in metres.
func (g Grid) X(c int) float64 { return g.Origin.X + float64(c)*g.Step.X }

// Y returns the depth z of the pixels of row r in metres: the plot's second
// axis, not the y of the part.
func (g Grid) Y(r int) float64 { return g.Origin.Z + float64(r)*g.Step.Z }
