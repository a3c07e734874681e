// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// clad is an invented cladding.
var clad = material.Isotropic{Density: 8000, Longitudinal: 5500, Transverse: 2900}

// box returns the outline of a rectangle (mm).
func box(left, top, right, bottom float64) wedge.Outline {
	return wedge.Outline{
		{X: left * 1e-3, Y: top * 1e-3}, {X: right * 1e-3, Y: top * 1e-3},
		{X: right * 1e-3, Y: bottom * 1e-3}, {X: left * 1e-3, Y: bottom * 1e-3},
	}
}

// TestCladPlate compares rays in a plate of 20 mm with 4 mm of cladding on the back wall with
// package wedge, directly and after a skip. The cladding is made by planes and by polygons. One
// polygon ends on the back wall.
func TestCladPlate(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	from := mm(-25, -12)
	base, cladding := check.Must(NewIsotropic(parent)), check.Must(NewIsotropic(clad))
	for i, p := range []*Part{
		{Media: []Medium{cladding, base}, Faces: []wedge.Surface{check.Must(wedge.NewPlane(mm(0, 16), r3.Vec{Z: -1}))}},
		{Media: []Medium{cladding, base}, Faces: []wedge.Surface{check.Must(joint.NewBoundary(box(-400, 16, 400, 20)))}},
	} {
		p.Coupling, p.Entry, p.Back = &plastic, plane(0), plane(20e-3)
		for _, row := range []struct {
			path string
			to   r3.Vec
			legs []wedge.Leg
		}{
			{"T", mm(6, 18), legs(parent.Transverse, clad.Transverse)},
			{"TT", mm(18, 9), legs(parent.Transverse, clad.Transverse, clad.Transverse, parent.Transverse)},
			{"LT", mm(4, 18), legs(parent.Longitudinal, clad.Longitudinal, clad.Transverse)},
		} {
			crossings := []wedge.Crossing{{Surface: plane(0)}, {Surface: plane(16e-3)},
				{Surface: plane(20e-3), Reflects: true}, {Surface: plane(16e-3), From: wedge.Far}}
			want := check.Must(wedge.NewPath(row.legs, crossings[:len(row.legs)-1])).Solve(from, row.to).Time
			pol, options := skipOptions(row.path)
			rays := check.Must(p.Rays(pol, from, row.to, options))
			if len(rays) != 1 || !(math.Abs(rays[0].Time-want) <= 1e-16) {
				t.Errorf("plate %d, %s: %+v, want one ray with %v s", i, row.path, rays, want)
			}
		}
	}
}

// legs returns the legs of a path through the wedge of the tests and then at the speeds given.
func legs(speeds ...float64) []wedge.Leg {
	out := []wedge.Leg{{Speed: plastic.Longitudinal}}
	for _, v := range speeds {
		out = append(out, wedge.Leg{Speed: v})
	}
	return out
}

// TestButtering compares a skip by two ways: see checkButtering.
func TestButtering(t *testing.T) { checkButtering(t, "LL", mm(-4, 22)) }

// checkButtering compares skips in a weld with 3 mm of buttering on the left fusion face, made as
// a strip between two planes, and made as a layer. The layer shares a side with the fusion face.
func checkButtering(t *testing.T, path string, to r3.Vec) {
	t.Helper()
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	butter := check.Must(NewUniform(curves, 70*degrees))
	outside, inside := check.Must(NewIsotropic(parent)), check.Must(NewGrains(curves, grainLaw{vee, 1, 1}))
	sin, cos := math.Sincos(vee.bevel)
	shift := 3e-3 / cos
	face := func(x, side float64) wedge.Surface {
		return check.Must(wedge.NewPlane(r3.Vec{X: x, Z: vee.root}, r3.Vec{X: cos, Z: side * sin}))
	}
	strip := &Part{
		Coupling: &plastic, Entry: plane(0), Back: plane(30e-3), Media: []Medium{outside, butter, inside, outside},
		Faces: []wedge.Surface{face(vee.centre-vee.halfRoot-shift, -1), face(vee.centre-vee.halfRoot, -1),
			face(vee.centre+vee.halfRoot, 1)},
	}
	top, bottom := vee.centre-vee.halfRoot-31e-3*math.Tan(vee.bevel), vee.centre-vee.halfRoot+1e-3*math.Tan(vee.bevel)
	layer := check.Must(NewWeld(&plastic, parent, curves, grainLaw{vee, 1, 1}, veeWeld, Layer{wedge.Outline{
		{X: top, Y: -1e-3}, {X: top - shift, Y: -1e-3}, {X: bottom - shift, Y: 31e-3}, {X: bottom, Y: 31e-3}}, butter}))
	pol, options := weldOptions(path)
	want := check.Must(strip.Ray(pol, mm(-60, -14), to, options))
	got := check.Must(layer.Ray(pol, mm(-60, -14), to, options))
	if want.Status != wedge.OK || !(math.Abs(got.Time-want.Time) <= 2e-12) {
		t.Errorf("%s to %v: %v %v s, want %v %v s", path, to, got.Status, got.Time, want.Status, want.Time)
	}
}
