// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// randomSection returns a path through one to three extruded surfaces of random shape, with a start
// above them and a row of ends. The last surface may reflect.
func randomSection(rng *rand.Rand) (p *Path, from r3.Vec, to []r3.Vec) {
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	n := 1 + rng.IntN(3)
	legs := []Leg{{Speed: within(1000, 7000)}}
	var crossings []Crossing
	for i := range n {
		depth := 10e-3 * float64(i)
		var s Surface
		switch rng.IntN(4) {
		case 0:
			s = check.Must(NewPlane(r3.Vec{Z: depth}, r3.Vec{X: within(-.1, .1), Z: 1}))
		case 1:
			radius := within(100e-3, 400e-3)
			s = check.Must(NewCylinder(r3.Vec{X: within(-5e-3, 5e-3), Z: depth + radius}, r3.Vec{Y: 1}, radius, Convex))
		case 2:
			radius := within(200e-3, 500e-3)
			s = check.Must(NewCylinder(r3.Vec{X: within(-5e-3, 5e-3), Z: depth - radius}, r3.Vec{Y: 1}, radius, Concave))
		default:
			height, pace, phase := within(0, 0.1e-3), within(100, 300), within(0, 2*math.Pi)
			var points []r3.Vec
			for x := -60e-3; x <= 60e-3; x += 1e-3 {
				points = append(points, r3.Vec{X: x, Z: depth + height*math.Sin(pace*x+phase)})
			}
			s = check.Must(NewProfile(points))
		}
		crossings = append(crossings, Crossing{Surface: s, From: Near})
		legs = append(legs, Leg{Speed: within(1000, 7000)})
	}
	from = r3.Vec{X: within(-8e-3, 8e-3), Z: -within(8e-3, 20e-3)}
	end := 10e-3*float64(n-1) + within(8e-3, 20e-3)
	if n > 1 && rng.IntN(2) == 0 {
		crossings[n-1].Reflects = true
		end = 10e-3*float64(n-1) - within(3e-3, 7e-3)
	}
	x, step := within(-8e-3, 8e-3), within(-1e-3, 1e-3)
	for i := range 8 {
		to = append(to, r3.Vec{X: x + float64(i)*step, Z: end})
	}
	return check.Must(NewPath(legs, crossings)), from, to
}

// TestSectionAgainstSolver compares rays of a table with single rays of the general solver. The
// rays of the table are solved for in their section, each from its neighbour.
func TestSectionAgainstSolver(t *testing.T) {
	cases := geometries
	if testing.Short() {
		cases = 500
	}
	found := 0
	rng := rand.New(rand.NewPCG(7, 8))
	for i := range cases {
		p, from, to := randomSection(rng)
		if newSection(p) == nil {
			t.Fatalf("case %d: no section of %+v", i, p.crossings)
		}
		w := newTracer(p)
		w.forget(nil)
		strides := p.strides(to)
		for k, q := range to {
			r := p.Solve(from, q)
			time, status := w.trace(from, q, strides[k])
			if status != r.Status {
				t.Fatalf("case %d, ray %d: %v, the general solver says %v", i, k, status, r.Status)
			}
			if status == OK {
				found++
			}
			if status == OK && !(math.Abs(time-r.Time) <= 1e-12) {
				t.Errorf("case %d, ray %d: %.6f ns, by the general solver %.6f ns",
					i, k, time*1e9, r.Time*1e9)
			}
		}
	}
	if all := 8 * cases; !(found > all*9/10) {
		t.Errorf("only %d rays of %d exist", found, all)
	}
}

// TestStationKeepsItsCurve moves a station far along each kind of curve and back, in small and in
// large steps.
func TestStationKeepsItsCurve(t *testing.T) {
	for name, surface := range surfaces() {
		p := check.Must(NewPath([]Leg{{Speed: 1}, {Speed: 1}}, []Crossing{{Surface: surface}}))
		s := newSection(p)
		if !surface.Extruded() {
			if s != nil {
				t.Errorf("%s is not extruded, but has a section", name)
			}
			continue
		}
		at := surface.At(0, 0)
		station := &s.stations[0]
		station.set(0, &at)
		for i := range 100000 {
			step := 1e-6 * float64(1+i%7)
			if i%1000 == 0 {
				step = 3e-3
			}
			if i >= 50000 {
				step = -step
			}
			station.advance(step)
		}
		q := r3.Vec{X: station.x, Z: station.z}
		if depth := surface.Depth(q); !(math.Abs(depth) <= 1e-15) {
			t.Errorf("%s: the station lies %v m off its surface", name, depth)
		}
		u, _ := surface.Locate(q)
		patch := surface.At(u, 0)
		normal := patch.Normal()
		if !(math.Abs(station.tx-normal.Z) <= 1e-12 && math.Abs(station.tz+normal.X) <= 1e-12) {
			t.Errorf("%s: tangent (%v, %v) where the normal is %v",
				name, station.tx, station.tz, normal)
		}
		if bend := r3.Dot(patch.UU, normal) / r3.Norm2(patch.U); !(math.Abs(station.bend-bend) <= 1e-9*math.Abs(bend)) {
			t.Errorf("%s: curvature %v, want %v", name, station.bend, bend)
		}
	}
}

// TestSectionStartsRows checks that the ray to the first point of a row stays the start for the next
// row.
func TestSectionStartsRows(t *testing.T) {
	path := refracting([]float64{1.48, 5.9}, check.Must(HorizontalPlane(0)))
	tracer := newTracer(path)
	element, row := mm(-4, -12), []r3.Vec{mm(0, 9), mm(0.3, 9), mm(0.6, 9), mm(0.9, 9)}
	for i, stride := range path.strides(row) {
		if _, status := tracer.trace(element, row[i], stride); status != OK {
			t.Fatal(status)
		}
	}
	if got := tracer.section.trail.first; got != flat(row[0]) {
		t.Errorf("the next row starts from the ray to %v, want the ray to %v", got, flat(row[0]))
	}
}
