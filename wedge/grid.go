// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// maxPoints is the largest number of points that a [Grid] may have.
const maxPoints = 1 << 28

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
	Cols, Rows, Slices int    // numbers of pixels along x, z and y, each at least 1; 2^28 together at most
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
		if !number.Finite(axis.origin) {
			return fmt.Errorf("wedge: origin %v m along %s: want a finite value",
				axis.origin, axis.name)
		}
		if !number.Positive(axis.step) {
			return fmt.Errorf("wedge: step %v m along %s: want a finite value above 0",
				axis.step, axis.name)
		}
		if axis.count < 1 || axis.count > maxPoints {
			return fmt.Errorf("wedge: %d pixels along %s: want 1 to %d",
				axis.count, axis.name, maxPoints)
		}
	}
	if n := float64(g.Cols) * float64(g.Rows) * float64(g.Slices); n > maxPoints {
		return fmt.Errorf("wedge: grid of %d × %d × %d pixels: want %d at most",
			g.Cols, g.Rows, g.Slices, maxPoints)
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

// row returns the centre of the first pixel of row r in slice s. The other centres of the row have
// other x only.
func (g Grid) row(s, r int) r3.Vec { return g.Point((s*g.Rows + r) * g.Cols) }

// Places returns the identity of the centres of all pixels.
func (g Grid) Places() Places {
	across := make([]uint64, g.Cols)
	for c := range across {
		across[c] = math.Float64bits(steps(g.X(c)))
	}
	h := newHasher()
	for s := range g.Slices {
		for r := range g.Rows {
			p := g.row(s, r)
			y, z := math.Float64bits(steps(p.Y)), math.Float64bits(steps(p.Z))
			for _, x := range across {
				h.x, h.y, h.z = mix(h.x, x), mix(h.y, y), mix(h.z, z)
			}
		}
	}
	h.count, h.first, h.last = g.Len(), g.Point(0), g.Point(g.Len()-1)
	return h.places()
}

// Points returns the centres of all pixels in the order of their indices.
func (g Grid) Points() []r3.Vec {
	points := make([]r3.Vec, 0, g.Len())
	for s := range g.Slices {
		for r := range g.Rows {
			p := g.row(s, r)
			for c := range g.Cols {
				p.X = g.X(c)
				points = append(points, p)
			}
		}
	}
	return points
}

// Dims returns the numbers of columns and rows. With [Grid.X] and [Grid.Y] it
// is the part of gonum plot's GridXYZ interface that every image shares.
func (g Grid) Dims() (c, r int) { return g.Cols, g.Rows }

// X returns the x of the pixels of column c in metres.
func (g Grid) X(c int) float64 { return g.Origin.X + float64(c)*g.Step.X }

// Y returns the depth z of the pixels of row r in metres: the plot's second
// axis, not the y of the part.
func (g Grid) Y(r int) float64 { return g.Origin.Z + float64(r)*g.Step.Z }
