// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package graded_test

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge/graded"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// TestBranchesCapture images the full-wave capture grainw32 of testdata/austenitic with all qSV rays.
// Each hole must show within 0.3 mm of its face, on the side from which the waves come. With the
// first rays alone one hole at least must lie farther off, or the trial shows nothing. The weld is
// the weld of testdata/austenitic/README.md, known exactly.
func TestBranchesCapture(t *testing.T) {
	ctx := context.Background()
	record := check.Must(npy.ReadFile("../../testdata/austenitic/grainw32.json", nil))
	setup := check.Must(record.Geometry())
	edge := joint.Edge{Upper: joint.Bevel{Angle: math.Pi / 6}}
	vee := check.Must(joint.Butt{Thickness: 20e-3, Gap: 4e-3, Left: edge, Right: edge}.Joint()).Shifted(r2.Vec{X: 20e-3})
	metal := material.TransverselyIsotropic{C11: 262.75e9, C12: 98.25e9, C13: 145e9, C33: 216e9, C44: 129e9}
	curves := check.Must(graded.NewSlownessCurves(material.Anisotropic{Density: 8120, Stiffness: metal.Stiffness()}))
	weld := check.Must(graded.NewWeld(setup.Coupling, setup.Part, curves, check.Must(graded.NewGrainLaw(vee, 1, 1)), vee))

	grid := check.Must(tfm.NewSection(14e-3, 27.5e-3, 6e-3, 14.5e-3, 0.5e-3))
	var points []r3.Vec
	for _, p := range grid.Points() {
		points = append(points, p)
	}
	bonded := &graded.Acoustics{Contact: material.Welded}
	branches := check.Must(weld.Branches(ctx, graded.QuasiShearVertical, record.Capture.Array.Elements, points, bonded, nil))
	all := check.Must(tfm.NewBranchPlan(record.Capture, grid, branches, branches, nil))
	first := check.Must(tfm.NewPlan(record.Capture, grid, branches.Times[0], branches.Times[0], nil))
	off := 0
	for _, h := range record.Truth.Holes {
		x, z := peakNear(check.Must(all.Image(ctx, record.Capture)), h.X, h.Z)
		face := math.Hypot(x-h.X, z-h.Z) - h.Diameter/2
		t.Logf("hole at (%.1f, %.1f) mm: %.2f mm from its face, at (%.2f, %.2f) mm from its centre", h.X*1e3, h.Z*1e3, face*1e3, (x-h.X)*1e3, (z-h.Z)*1e3)
		if !(math.Abs(face) <= 0.3e-3) || !(x < h.X) {
			t.Errorf("hole at (%.1f, %.1f) mm: peak at (%.2f, %.2f) mm, %.2f mm from its face", h.X*1e3, h.Z*1e3, x*1e3, z*1e3, face*1e3)
		}
		x, z = peakNear(check.Must(first.Image(ctx, record.Capture)), h.X, h.Z)
		if face := math.Hypot(x-h.X, z-h.Z) - h.Diameter/2; math.Abs(face) > 0.3e-3 || x > h.X {
			off++
		}
	}
	if off == 0 {
		t.Error("the first rays show each hole at its face too")
	}
}

// peakNear returns the place of the highest pixel within 2 mm of a place, refined by parabolas.
func peakNear(im *tfm.Image, x, z float64) (float64, float64) {
	e := im.Envelope(nil)
	value := func(i int) float64 { return float64(e.Data[i]) }
	best := -1
	for i := range e.Data {
		row, col := i/e.Cols, i%e.Cols
		p := e.Point(i)
		if math.Hypot(p.X-x, p.Z-z) <= 2e-3 && row > 0 && col > 0 && row < e.Rows-1 && col < e.Cols-1 &&
			(best < 0 || value(i) > value(best)) {
			best = i
		}
	}
	vertex := func(step int) float64 {
		a, b, c := value(best-step), value(best), value(best+step)
		return (a - c) / (2 * (a - 2*b + c))
	}
	p := e.Point(best)
	right, below := e.Point(best+1), e.Point(best+e.Cols)
	return p.X + (right.X-p.X)*vertex(1), p.Z + (below.Z-p.Z)*vertex(e.Cols)
}
