// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// must unwraps a constructor whose arguments are known to be good.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

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
		crossings = append(crossings, Crossing{Surface: s, Event: Refract, From: Near})
	}
	return must(NewPath(legs, crossings))
}

// plateOf returns a contact set-up of a plate: thickness in mm, speeds in mm/µs.
func plateOf(thickness, longitudinal, transverse float64) *Setup {
	part := material.Isotropic{Density: 7850, Longitudinal: longitudinal * 1e3, Transverse: transverse * 1e3}
	return must(NewPlate(nil, part, thickness*1e-3))
}

// TestExactTimes compares with times that were computed independently of this
// library, by bisection with 25 digits (mpmath 1.2.1), except where a row says
// otherwise. Lengths are in mm, speeds in mm/µs, times in µs.
func TestExactTimes(t *testing.T) {
	flat := must(HorizontalPlane(0))
	tilted := must(NewPlane(mm(0, 20), r3.Vec{X: -0.2, Z: 1}))
	round := must(NewCylinder(mm(0, 70), r3.Vec{Y: 1}, 50e-3, Convex))
	plate := plateOf(30, 5.92, 3.255)
	const L, T = material.L, material.T
	skip := func(modes ...material.Mode) *Path { return must(plate.Path(modes)) }

	tests := []struct {
		name, reason string
		path         *Path
		from, to     r3.Vec
		time         float64
		crossing     r3.Vec // the first one
		angles       []float64
	}{
		{
			"flat, water to steel L", "a liquid couplant, the fast wave",
			refracting([]float64{1.48, 5.9}, flat), mm(0, -20), mm(20, 30),
			19.505272739817, mm(2.5435230719443, 0), []float64{7.247749484, 30.19437881},
		},
		{
			"flat, water to steel T", "the slow wave",
			refracting([]float64{1.48, 3.23}, flat), mm(0, -20), mm(20, 30),
			24.305214413709, mm(4.3394512610422, 0), []float64{12.24186231, 27.56538253},
		},
		{
			"flat, acrylic to steel L", "a solid wedge",
			refracting([]float64{2.73, 5.92}, flat), mm(0, -10), mm(30, 25),
			10.034789977942, mm(3.5566181667044, 0), []float64{19.57853066, 46.60716487},
		},
		{
			"flat, acrylic to steel T", "a solid wedge, the wave used for welds",
			refracting([]float64{2.73, 3.255}, flat), mm(0, -10), mm(30, 25),
			14.907610470387, mm(6.9182894302512, 0), []float64{34.67660648, 42.71531364},
		},
		{
			"flat, target 0.1 mm deep", "the crossing lies nearly above the target",
			refracting([]float64{1.5, 6}, flat), mm(0, -50), mm(3, 0.1),
			33.409464754698, mm(2.9755370656073, 0), []float64{3.405697645, 13.74626451},
		},
		{
			"flat, normal incidence", "closed form 15/1.48 + 40/5.9",
			refracting([]float64{1.48, 5.9}, flat), mm(0, -15), mm(0, 40),
			16.914796152084, mm(0, 0), []float64{0, 0},
		},
		{
			"tilted plane", "z = 20 + 0.2 x",
			refracting([]float64{1.48, 5.9}, tilted), mm(0, 0), mm(15, 45),
			18.45021752422, mm(-0.5059956847465, 19.89880086305), nil,
		},
		{
			"convex cylinder", "a pipe from outside",
			refracting([]float64{1.48, 5.9}, round), mm(0, 0), mm(10, 30),
			15.77012118042, mm(2.3393278442, 20.0547545282), []float64{9.33496708, 40.2881677},
		},
		{
			"convex cylinder, off centre", "the ray crosses over the top",
			refracting([]float64{1.48, 5.9}, round), mm(10, 0), mm(-8, 35),
			17.42597443131, mm(4.93291252124, 20.2439312841), nil,
		},
		{
			"three layers", "two crossings at once",
			refracting([]float64{1.48, 2.73, 5.92}, flat, must(HorizontalPlane(5e-3))), mm(0, -10), mm(25, 35),
			15.028425715367, mm(1.49847144873, 0), nil,
		},
		{
			"skip TT", "mirror image: hypot(20, 45)/3.255",
			skip(T, T), mm(0, 0), mm(20, 15), 15.128813827644, mm(20*30./45, 30), nil,
		},
		{
			"skip LL", "mirror image: hypot(20, 45)/5.92",
			skip(L, L), mm(0, 0), mm(20, 15), 8.3182920623278, mm(20*30./45, 30), nil,
		},
		{
			"two skips TTT", "mirror image: hypot(20, 75)/3.255",
			skip(T, T, T), mm(0, 0), mm(20, 15), 23.846658519601, mm(20*30./75, 30), nil,
		},
		{
			"converted skip LT", "Fermat through layers of 30 and 15 mm",
			skip(L, T), mm(0, 0), mm(20, 15), 10.512572476889, mm(15.9851275879, 30), nil,
		},
		{
			"converted skip TL", "the other way round",
			skip(T, L), mm(0, 0), mm(20, 15), 12.759976000017, mm(9.7727797964, 30), nil,
		},
		{
			"direct in contact", "closed form 5/5.92, a 3-4-5 triangle",
			skip(L), mm(0, 0), mm(3, 4), 5 / 5.92, r3.Vec{}, nil,
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			r := test.path.Solve(test.from, test.to)
			if r.Status != OK {
				t.Fatalf("%s: status %v", test.reason, r.Status)
			}
			if got := r.Time * 1e6; !(math.Abs(got-test.time) <= 1e-11*test.time) {
				t.Errorf("%s: time %.13f µs, want %.13f", test.reason, got, test.time)
			}
			if len(r.Normals) > 0 {
				if d := r3.Norm(r3.Sub(r.Points[1], test.crossing)); !(d <= 1e-12) {
					t.Errorf("%s: first crossing %v, want %v m", test.reason, r.Points[1], test.crossing)
				}
			}
			if test.angles != nil {
				in, out := r.Angles(0)
				for i, got := range []float64{in, out} {
					if deg := got * 180 / math.Pi; !(math.Abs(deg-test.angles[i]) <= 1e-7) {
						t.Errorf("%s: angle %d is %.9f°, want %.9f°", test.reason, i, deg, test.angles[i])
					}
				}
			}
		})
	}
}

// TestEllipse checks reflection where the answer is a property of the conic: all
// paths between the foci of an ellipse by way of its edge take 2a/c. The circle
// of curvature touches the ellipse at the end of the minor axis, so a cylinder of
// that radius reflects there, with a time that is flat to third order.
func TestEllipse(t *testing.T) {
	const a, b, c = 50e-3, 30e-3, 5920.0
	focus := math.Sqrt(a*a - b*b)
	radius := a * a / b
	mirror := must(NewCylinder(r3.Vec{Z: b - radius}, r3.Vec{Y: 1}, radius, Concave))
	p := must(NewPath([]Leg{{Speed: c}, {Speed: c}}, []Crossing{{Surface: mirror, Event: Reflect, From: Near}}))
	r := p.Solve(r3.Vec{X: -focus}, r3.Vec{X: focus})
	if r.Status != OK || !(math.Abs(r.Time-2*a/c) <= 1e-12*r.Time) {
		t.Fatalf("time %v s (%v), want 2a/c = %v s", r.Time, r.Status, 2*a/c)
	}
}

// TestDelayLaw checks the delays that focus an array of four elements, 0.6 mm
// apart, at (10, 30) mm in steel of 5.92 mm/µs: each element waits for the one
// farthest from the focus. Independent calculation, mpmath 1.2.1; in µs.
func TestDelayLaw(t *testing.T) {
	p := must(plateOf(40, 5.92, 3.255).Path([]material.Mode{material.L}))
	table := must(p.Times(background, lineElements(4, 0.6e-3, 0), []r3.Vec{mm(10, 30)}, nil))
	for i, want := range []float64{0, 0.03376376, 0.06581257, 0.0961153} {
		if got := float64(table.Seconds[0]-table.Seconds[i]) * 1e6; !(math.Abs(got-want) <= 2e-6) {
			t.Errorf("element %d waits %.7f µs, want %.7f", i, got, want)
		}
	}
}
