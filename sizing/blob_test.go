// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// blob is a Gaussian hill of an invented picture. Its length and width are those
// at half its height, in metres; its tilt is the angle of the long axis from the
// vertical, its top leaning to +x where positive.
type blob struct {
	x, z, length, width, tilt, height float64
}

func (b blob) at(x, z float64) float64 {
	sin, cos := math.Sincos(b.tilt)
	dx, dz := x-b.x, z-b.z
	along, across := dx*sin-dz*cos, dx*cos+dz*sin
	return b.height * math.Exp2(-4*(along*along/(b.length*b.length)+across*across/(b.width*b.width)))
}

// draw returns a section of cols × rows pixels from the origin on, a step apart,
// each with the highest amplitude of the blobs there.
func draw(tb testing.TB, cols, rows int, step float64, blobs ...blob) *tfm.Envelope {
	tb.Helper()
	g := tfm.Grid{Step: r3.Vec{X: step, Y: step, Z: step}, Cols: cols, Rows: rows, Slices: 1}
	if err := g.Validate(); err != nil {
		tb.Fatal(err)
	}
	env := &tfm.Envelope{Grid: g, Data: make([]float32, g.Len())}
	for i := range env.Data {
		p := g.Point(i)
		for _, b := range blobs {
			env.Data[i] = max(env.Data[i], float32(b.at(p.X, p.Z)))
		}
	}
	return env
}

// diffExtent returns the difference of two extents beyond rounding, "" where there
// is none.
func diffExtent(want, got sizing.Extent) string {
	return cmp.Diff(want, got, cmpopts.EquateApprox(0, 1e-12))
}
