// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// The set-ups of the reference captures in testdata.
var (
	steel       = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	aluminium   = material.Isotropic{Density: 2700, Longitudinal: 6320, Transverse: 3130}
	water       = material.Isotropic{Density: 998, Longitudinal: 1482}
	polystyrene = material.Isotropic{Density: 1055, Longitudinal: 2340, Transverse: 1150}
)

// wedgeElements returns the array of weld32 and sdh32: 32 elements at a pitch of 0.6 mm on a slope
// of 36 degrees.
func wedgeElements() []r3.Vec {
	var elements []r3.Vec
	sin, cos := math.Sincos(36 * math.Pi / 180)
	for i := range 32 {
		s := 0.6e-3 * float64(i)
		elements = append(elements, r3.Vec{X: -15.854687359e-3 + s*cos, Z: -6e-3 - s*sin})
	}
	return elements
}

func lineElements(n int, pitch, z float64) []r3.Vec {
	var elements []r3.Vec
	for i := range n {
		elements = append(elements, r3.Vec{X: (float64(i) - float64(n-1)/2) * pitch, Z: z})
	}
	return elements
}

// timeThrough returns the time along p through given points of its surfaces.
func timeThrough(p *Path, from, to r3.Vec, params []float64) float64 {
	at, time := from, 0.0
	for i, c := range p.crossings {
		next := c.Surface.At(params[2*i], params[2*i+1]).P
		time += r3.Norm(r3.Sub(next, at)) / p.legs[i].Speed
		at = next
	}
	return time + r3.Norm(r3.Sub(to, at))/p.legs[len(p.crossings)].Speed
}

// bruteForce returns the least time along a path of one or two crossings in the section y = 0. It
// scans 80 mm of each surface in steps of 0.25 mm, then minimises by a general-purpose method
// without derivatives from the best point.
func bruteForce(t *testing.T, p *Path, from, to r3.Vec) float64 {
	t.Helper()
	const reach, step = 40e-3, 0.25e-3
	m := len(p.crossings)
	least, at := math.Inf(1), make([]float64, 2*m)
	params := make([]float64, 2*m)
	scan := func(visit func()) {
		for u := -reach; u <= reach; u += step {
			params[0] = u
			visit()
		}
	}
	keep := func() {
		if time := timeThrough(p, from, to, params); time < least {
			least = time
			copy(at, params)
		}
	}
	if m == 1 {
		scan(keep)
	} else {
		scan(func() {
			for u := -reach; u <= reach; u += step {
				params[2] = u
				keep()
			}
		})
	}
	start := make([]float64, m)
	for i := range start {
		start[i] = at[2*i] / step
	}
	problem := optimize.Problem{Func: func(x []float64) float64 {
		for i, v := range x {
			params[2*i] = v * step
		}
		return timeThrough(p, from, to, params) * 1e6
	}}
	settings := &optimize.Settings{Converger: &optimize.FunctionConverge{Absolute: 1e-14, Iterations: 60}}
	result, err := optimize.Minimize(problem, start, settings, &optimize.NelderMead{})
	if err != nil {
		t.Fatal(err)
	}
	return result.F * 1e-6
}

// TestBruteForce compares times in the set-ups of the reference captures with the least time over
// the surfaces.
func TestBruteForce(t *testing.T) {
	plate16 := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	plate30 := check.Must(NewPlate(&polystyrene, steel, 30e-3))
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	contact := check.Must(NewPlate(nil, aluminium, 40e-3))
	for _, test := range []struct {
		name           string
		setup          *Setup
		path           string
		elements       []r3.Vec
		x0, x1, z0, z1 float64 // mm
		count          int
	}{
		{"block16 L", contact, "L", lineElements(16, 1e-3, 0), -15, 15, 1, 40, 40},
		{"block16 LL", contact, "LL", lineElements(16, 1e-3, 0), -15, 15, 1, 40, 40},
		{"block16 LT", contact, "LT", lineElements(16, 1e-3, 0), -15, 15, 1, 40, 40},
		{"weld32 T", plate16, "T", wedgeElements(), 5, 35, 0.5, 16, 60},
		{"weld32 L", plate16, "L", wedgeElements(), 5, 35, 0.5, 16, 40},
		{"weld32 TT", plate16, "TT", wedgeElements(), 5, 35, 0.5, 15.9, 8},
		{"weld32 LT", plate16, "LT", wedgeElements(), 5, 35, 0.5, 15.9, 8},
		{"sdh32 T", plate30, "T", wedgeElements(), 5, 35, 0.5, 30, 60},
		{"pipe32 L", pipe, "L", lineElements(32, 0.6e-3, -10e-3), -10, 10, 2.5, 13, 60},
		{"pipe32 T", pipe, "T", lineElements(32, 0.6e-3, -10e-3), -10, 10, 2.5, 13, 60},
		{"pipe32 TT", pipe, "TT", lineElements(32, 0.6e-3, -10e-3), -8, 8, 2.5, 12, 8},
	} {
		t.Run(test.name, func(t *testing.T) {
			modes, _ := parseModes(test.path)
			p := check.Must(test.setup.Path(modes))
			rng := rand.New(rand.NewPCG(1, 2))
			for range test.count {
				from := test.elements[rng.IntN(len(test.elements))]
				to := mm(test.x0+rng.Float64()*(test.x1-test.x0), test.z0+rng.Float64()*(test.z1-test.z0))
				r := p.Solve(from, to)
				if r.Status != OK {
					t.Fatalf("%v to %v: %v", from, to, r.Status)
				}
				want := r3.Norm(r3.Sub(to, from)) / p.legs[0].Speed
				if len(p.crossings) > 0 {
					want = bruteForce(t, p, from, to)
				}
				if !(math.Abs(r.Time-want) <= 1e-9*want) {
					t.Errorf("%v to %v: %.6f ns, least over the surface %.6f ns",
						from, to, r.Time*1e9, want*1e9)
				}
			}
		})
	}
}

// randomCase returns a path through one to three surfaces of random shape and tilt, with a start
// above them and an end below them.
func randomCase(rng *rand.Rand) (p *Path, from, to r3.Vec) {
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	var legs []Leg
	var crossings []Crossing
	n := 1 + rng.IntN(3)
	for i := range n {
		depth := 10e-3 * float64(i)
		legs = append(legs, Leg{Speed: within(1000, 7000)})
		var s Surface
		switch rng.IntN(3) {
		case 0:
			s = check.Must(NewPlane(r3.Vec{Z: depth}, r3.Vec{X: within(-.1, .1), Y: within(-.1, .1), Z: 1}))
		case 1:
			radius := within(100e-3, 400e-3)
			s = check.Must(NewCylinder(r3.Vec{Z: depth + radius}, r3.Vec{X: within(-1, 1), Y: 1, Z: within(-.02, .02)}, radius, Convex))
		default:
			radius := within(200e-3, 500e-3)
			s = check.Must(NewCylinder(r3.Vec{Z: depth - radius}, r3.Vec{X: within(-1, 1), Y: 1, Z: within(-.02, .02)}, radius, Concave))
		}
		crossings = append(crossings, Crossing{Surface: s, From: Near})
	}
	legs = append(legs, Leg{Speed: within(1000, 7000)})
	from = r3.Vec{X: within(-8e-3, 8e-3), Y: within(-8e-3, 8e-3), Z: -within(8e-3, 20e-3)}
	to = r3.Vec{X: within(-8e-3, 8e-3), Y: within(-8e-3, 8e-3), Z: 10e-3*float64(n-1) + within(8e-3, 20e-3)}
	return check.Must(NewPath(legs, crossings)), from, to
}

// least returns the least time of p over points of its surfaces at equal distances of x, and the
// points. It finds the quickest way to each point of a surface from the quickest ways to the points
// of the surface before.
func least(p *Path, from, to r3.Vec, centres []float64, reach float64, count int) (time float64, at []float64) {
	type way struct {
		q    r3.Vec
		x    float64
		time float64
		from int
	}
	ways := [][]way{{{q: from}}}
	for k, c := range p.crossings {
		var next []way
		for i := range count {
			x := centres[k] + reach*(2*float64(i)/float64(count-1)-1)
			u, _ := c.Surface.Locate(r3.Vec{X: x, Z: 10e-3 * float64(k)})
			w := way{q: c.Surface.At(u, from.Y).P, x: x, time: math.Inf(1)}
			for j, before := range ways[k] {
				if t := before.time + r3.Norm(r3.Sub(w.q, before.q))/p.legs[k].Speed; t < w.time {
					w.time, w.from = t, j
				}
			}
			next = append(next, w)
		}
		ways = append(ways, next)
	}
	m := len(p.crossings)
	best, time := 0, math.Inf(1)
	for j, w := range ways[m] {
		if t := w.time + r3.Norm(r3.Sub(to, w.q))/p.legs[m].Speed; t < time {
			best, time = j, t
		}
	}
	at = make([]float64, m)
	for k := m; k > 0; k-- {
		at[k-1] = ways[k][best].x
		best = ways[k][best].from
	}
	return time, at
}

// TestRandomBruteForce compares rays through random surfaces with the least time over the surfaces,
// in a table and alone.
func TestRandomBruteForce(t *testing.T) {
	cases := geometries
	if testing.Short() {
		cases = 200
	}
	rng := rand.New(rand.NewPCG(17, 18))
	worst := 0.0
	for i := range cases {
		p, from, row := randomSection(rng)
		to := row[0]
		r := p.Solve(from, to)
		if r.Status != OK {
			t.Fatalf("case %d: %v", i, r.Status)
		}
		_, at := least(p, from, to, make([]float64, len(p.crossings)), 25e-3, 72)
		_, at = least(p, from, to, at, 0.75e-3, 40)
		want, _ := least(p, from, to, at, 60e-6, 40)
		// The error of the least time from points 3 µm apart is below 1 ps.
		if excess := want - r.Time; !(excess >= -1e-14 && excess <= 1e-12) {
			t.Errorf("case %d: %.6f ns, least over the surfaces %.6f ns", i, r.Time*1e9, want*1e9)
		} else {
			worst = max(worst, excess)
		}
		table := check.Must(p.Times(background, []r3.Vec{from}, row[:1], nil))
		if got := float64(table.Seconds[0]); !(math.Abs(got-want) <= 1e-12+want*0x1p-24) {
			t.Errorf("case %d: %v s in the table, least over the surfaces %v s", i, got, want)
		}
	}
	t.Logf("%d cases, largest difference %.3g s", cases, worst)
}

// reversed returns p in the other direction.
func reversed(p *Path) *Path {
	var legs []Leg
	var crossings []Crossing
	for i := range p.legs {
		legs = append(legs, p.legs[len(p.legs)-1-i])
	}
	for i := range p.crossings {
		c := p.crossings[len(p.crossings)-1-i]
		crossings = append(crossings, Crossing{c.Surface, c.after(), c.Reflects})
	}
	return check.Must(NewPath(legs, crossings))
}

// TestRayProperties checks properties of every ray, on skew rays through random surfaces: Snell's
// law at each crossing, reciprocity, slower neighbours, and the slowness at the end as the
// derivative of the time.
func TestRayProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for i := range 500 {
		p, from, to := randomCase(rng)
		r := p.Solve(from, to)
		if r.Status != OK {
			t.Fatalf("case %d: %v", i, r.Status)
		}
		last := len(p.crossings)
		for k := range p.crossings {
			before, after := p.legs[k].Speed, p.legs[k+1].Speed
			if residual := snellResidual(&r, k, before, after) * min(before, after); !(residual <= 1e-11) {
				t.Errorf("case %d: Snell's law broken by %g at crossing %d", i, residual, k)
			}
		}
		if back := reversed(p).Solve(to, from); !(math.Abs(back.Time-r.Time) <= 1e-14*r.Time) {
			t.Errorf("case %d: %v s one way, %v s back", i, r.Time, back.Time)
		}
		params := make([]float64, 2*last)
		for range 20 {
			for k, c := range p.crossings {
				u, v := c.Surface.Locate(r.Points[k+1])
				params[2*k], params[2*k+1] = u+1e-4*rng.NormFloat64(), v+1e-4*rng.NormFloat64()
			}
			if time := timeThrough(p, from, to, params); !(time > r.Time) {
				t.Errorf("case %d: a neighbour of the path takes %v s, the ray %v s",
					i, time, r.Time)
			}
		}
		const h = 1e-6
		slowness := r3.Scale(1/p.legs[last].Speed, r.Direction(last))
		for _, axis := range []r3.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
			above := p.Solve(from, r3.Add(to, r3.Scale(h, axis))).Time
			below := p.Solve(from, r3.Sub(to, r3.Scale(h, axis))).Time
			if got, want := (above-below)/(2*h), r3.Dot(slowness, axis); !(math.Abs(got-want) <= 1e-6*r3.Norm(slowness)) {
				t.Errorf("case %d: time changes by %v s/m along %v, slowness is %v",
					i, got, axis, want)
			}
		}
	}
}

// TestSection checks that a ray in a section, solved for one unknown per crossing, equals the ray
// solved for two unknowns.
func TestSection(t *testing.T) {
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	p := check.Must(pipe.Path([]material.Mode{material.T, material.T}))
	from, to := mm(-6, -10), mm(5, 9)
	flat := p.Solve(from, to)
	// An element slightly outside the section makes the solver use both unknowns.
	from.Y = 1e-12
	skew := p.Solve(from, to)
	if flat.Status != OK || skew.Status != OK || !(math.Abs(flat.Time-skew.Time) <= 1e-14*flat.Time) {
		t.Fatalf("%v s in the section (%v), %v s out of it (%v)",
			flat.Time, flat.Status, skew.Time, skew.Status)
	}
}

// TestScaling checks that a set-up of twice the size takes twice the time, to the last bits.
func TestScaling(t *testing.T) {
	small := check.Must(NewPipe(&water, steel, 50e-3, 10e-3))
	large := check.Must(NewPipe(&water, steel, 100e-3, 20e-3))
	modes := []material.Mode{material.L, material.T}
	r1 := check.Must(small.Path(modes)).Solve(mm(-3, -8), mm(4, 6))
	r2 := check.Must(large.Path(modes)).Solve(mm(-6, -16), mm(8, 12))
	if !(math.Abs(r2.Time-2*r1.Time) <= 1e-14*r2.Time) {
		t.Fatalf("%v s and %v s: want the double", r1.Time, r2.Time)
	}
}

var background = context.Background()
