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
)

// plane returns the plane z = depth.
func plane(depth float64) wedge.Surface { return check.Must(wedge.HorizontalPlane(depth)) }

// solid returns an isotropic solid of the given speeds.
func solid(longitudinal, transverse float64) material.Isotropic {
	return material.Isotropic{Density: 7850, Longitudinal: longitudinal, Transverse: transverse}
}

// TestLinearGradient compares times with the closed form of the speed c = c₀ + g·z, where rays are
// arcs of circles. For the distance d and the speeds c_a and c_b at the ends
//
//	t = acosh(1 + g² d²/(2 c_a c_b))/g
func TestLinearGradient(t *testing.T) {
	for _, row := range []struct {
		name      string
		c0, g     float64 // mm/µs, 1/µs
		xa, za    float64 // mm
		xb, zb    float64
		reference float64 // µs, independent calculation, mpmath 1.2.1; 0 for none
	}{
		{"steel", 5.9, 0.01, 0, 0, 40, 50, 10.415488598261},
		{"water", 1.48, 0.02, 0, 0, 30, 40, 26.893610515947},
		{"along the surface: the ray dives", 5.9, 0.02, 0, 0, 60, 0, 0},
		{"speed falls with depth", 5.9, -0.03, 0, 0, 40, 50, 0},
		{"straight down", 5.9, 0.03, 0, 0, 0, 50, 0},
		{"short", 5.9, 0.03, 0, 0, 1e-3, 2e-3, 0},
	} {
		m := check.Must(NewLinear(solid(row.c0*1e3, row.c0*500), r3.Vec{},
			r3.Vec{Z: row.g / row.c0 * 1e3}))
		p := &Part{Entry: plane(0), Media: []Medium{m}}
		a, b := r3.Vec{X: row.xa * 1e-3, Z: row.za * 1e-3}, r3.Vec{X: row.xb * 1e-3,
			Z: row.zb * 1e-3}
		ca, cb := row.c0+row.g*row.za, row.c0+row.g*row.zb
		d := math.Hypot(row.xb-row.xa, row.zb-row.za)
		// acosh(1 + 2s²) is 2 asinh s, which keeps its digits for short rays.
		want := 2 * math.Asinh(row.g*d/(2*math.Sqrt(ca*cb))) / row.g * 1e-6
		if row.reference != 0 && !(math.Abs(want*1e6/row.reference-1) <= 1e-12) {
			t.Errorf("%s: formula %v µs, reference %v µs", row.name, want*1e6, row.reference)
		}
		for _, tolerance := range []float64{0, 1e-14} {
			r := check.Must(p.Ray(qL, a, b, &Options{Tolerance: tolerance,
				Spacing: max(d*1e-3/32, 1e-5)}))
			allowed := max(tolerance, 1e-17)
			if tolerance == 0 {
				allowed = 10e-12
			}
			if r.Status != wedge.OK || !(math.Abs(r.Time-want) <= allowed) {
				t.Errorf("%s: %v, %v s, misses %v s by %.2g s with the error %.2g s", row.name,
					r.Status, r.Time, want, r.Time-want, r.Error)
			}
		}
	}
}

// TestLayers checks three plane layers, in which the horizontal slowness p is the same. The values
// are an independent calculation, mpmath 1.2.1: 10, 5 and 30 mm of 1.48, 2.73 and 5.92 mm/µs,
// offset 25 mm, p = 0.100130142104 µs/mm, t = 15.028425715367 µs.
func TestLayers(t *testing.T) {
	coupling := material.Isotropic{Density: 1000, Longitudinal: 1480}
	upper := check.Must(NewIsotropic(solid(2730, 1430)))
	lower := check.Must(NewIsotropic(solid(5920, 3255)))
	p := &Part{
		Coupling: &coupling, Entry: plane(0),
		Media: []Medium{upper, lower}, Faces: []wedge.Surface{plane(5e-3)},
	}
	r := check.Must(p.Ray(qL, r3.Vec{Z: -10e-3}, r3.Vec{X: 25e-3, Z: 35e-3}, nil))
	if !(math.Abs(r.Time-15.028425715367e-6) <= 1e-17) {
		t.Errorf("time %v s, want 15.028425715367e-6", r.Time)
	}
	if len(r.Points) != 4 {
		t.Fatalf("%d points of the ray, want 4", len(r.Points))
	}
	for i, c := range []float64{1480, 2730, 5920} {
		d := r3.Unit(r3.Sub(r.Points[i+1], r.Points[i]))
		if !(math.Abs(d.X/c-0.100130142104e-3) <= 1e-12) {
			t.Errorf("horizontal slowness of leg %d is %v s/m, want 0.100130142104e-3", i, d.X/c)
		}
	}
}

// TestIsotropicAgainstExact checks isotropic parts, given as isotropic media and as anisotropic
// media without anisotropy. The references are an independent calculation (mpmath 1.2.1) and the
// solver for isotropic media.
func TestIsotropicAgainstExact(t *testing.T) {
	for _, row := range []struct {
		h, x, z, c1, c2 float64 // mm, mm/µs
		pol             Polarisation
		reference       float64 // µs; 0 for none
	}{
		{20, 20, 30, 1.48, 5.9, qL, 19.505272739817},
		{20, 20, 30, 1.48, 3.23, qSV, 24.305214413709},
		{10, 30, 25, 2.73, 5.92, qL, 10.034789977942},
		{10, 30, 25, 2.73, 3.255, sH, 14.907610470387},
		{50, 3, 0.1, 1.5, 6, qL, 33.409464754698},
		{15, 0, 40, 1.48, 5.9, qL, 16.914796152084},
		{7, -35, 12, 2.33, 3.24, qSV, 0},
	} {
		coupling := material.Isotropic{Density: 1000, Longitudinal: row.c1 * 1e3}
		part := solid(row.c2*1e3, row.c2*500)
		if row.pol != qL {
			part = solid(row.c2*1.8e3, row.c2*1e3)
		}
		element, point := r3.Vec{Z: -row.h * 1e-3}, r3.Vec{X: row.x * 1e-3, Z: row.z * 1e-3}
		path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: row.c1 * 1e3}, {Speed: row.c2 * 1e3}},
			[]wedge.Crossing{{Surface: plane(0)}}))
		exact := path.Solve(element, point).Time
		if row.reference != 0 && !(math.Abs(exact*1e6/row.reference-1) <= 1e-12) {
			t.Errorf("%+v: solver for isotropic media %v µs", row, exact*1e6)
		}
		medium := check.Must(NewIsotropic(part))
		p := &Part{Coupling: &coupling, Entry: plane(0), Media: []Medium{medium}}
		r := check.Must(p.Ray(row.pol, element, point, nil))
		if !(math.Abs(r.Time/exact-1) <= 1e-13) {
			t.Errorf("%+v: part %v s, want %v", row, r.Time, exact)
		}
		a := check.Must(part.Anisotropic())
		curves := check.Must(NewSlownessCurves(a))
		b := &Block{Coupling: &coupling, Entry: plane(0), Curves: curves, Axis: 0.7}
		rays, err := b.Rays(row.pol, element, point)
		if err != nil || len(rays) != 1 {
			t.Fatalf("%+v: block: %d rays, error %v, want 1 ray", row, len(rays), err)
		}
		if !(math.Abs(rays[0].Time/exact-1) <= 1e-13) {
			t.Errorf("%+v: block %v s, want %v", row, rays[0].Time, exact)
		}
	}
}
