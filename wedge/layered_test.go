// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge/internal/layers"
)

// layeredTable makes the table of a path through layers, with directions.
func layeredTable(t *testing.T, p *Path, elements, points []r3.Vec) *Times {
	t.Helper()
	l := newLayered(p)
	if l == nil {
		t.Fatalf("the path %+v is not one through layers", p)
	}
	table := &Times{Elements: len(elements), Points: len(points), Seconds: make([]float32, len(elements)*len(points))}
	table.Departure, table.Arrival = make([]Direction, len(table.Seconds)), make([]Direction, len(table.Seconds))
	w := l.work(table, elements, points)
	do := w.worker()
	for task := range w.tasks {
		table.Missing += do(task)
	}
	return table
}

// compareWithSolver compares a table with single rays of the general solver, and returns the number
// of rays. A time may differ by 1e-12 of its value before it is rounded.
func compareWithSolver(t *testing.T, p *Path, table *Times, elements, points []r3.Vec) (rays int) {
	t.Helper()
	missing := 0
	for e, from := range elements {
		for i, to := range points {
			at := e*len(points) + i
			got, r := table.Seconds[at], p.Solve(from, to)
			if r.Status != OK {
				missing++
				if got == got || table.Departure[at].X == table.Departure[at].X || table.Arrival[at].Z == table.Arrival[at].Z {
					t.Fatalf("from %v to %v: %v s, departure %v, arrival %v, want NaN (%v)",
						from, to, got, table.Departure[at], table.Arrival[at], r.Status)
				}
				continue
			}
			rays++
			if !(got >= float32(r.Time*(1-1e-12)) && got <= float32(r.Time*(1+1e-12))) {
				t.Fatalf("from %v to %v: %v s, want %v", from, to, got, r.Time)
			}
			if d := distance(table.Departure[at], r.Direction(0)); !(d <= 1e-5) {
				t.Fatalf("from %v to %v: departs along %v, want %v",
					from, to, table.Departure[at], r.Direction(0))
			}
			last := len(r.Points) - 2
			// The solver finds the crossings to some ten picometres, which turn a last leg below 1 µm.
			leg := r3.Norm(r3.Sub(r.Points[last+1], r.Points[last]))
			if d := distance(table.Arrival[at], r.Direction(last)); !(d <= 1e-5) && leg > 1e-6 {
				t.Fatalf("from %v to %v: arrives along %v, want %v",
					from, to, table.Arrival[at], r.Direction(last))
			}
		}
	}
	if table.Missing != missing {
		t.Fatalf("%d rays missing, want %d", table.Missing, missing)
	}
	return rays
}

// TestLayeredPaths checks which paths are solved in layers.
func TestLayeredPaths(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	limited, tapered := *plate, *plate
	limited.Contact = &Interval{Min: -10e-3, Max: 10e-3}
	tapered.Back = check.Must(NewPlane(mm(0, 16), r3.Vec{X: 0.01, Z: 1}))
	upsideDown := check.Must(NewPlane(mm(0, 16), r3.Vec{Z: -1}))
	entry := plate.Entry
	legs := []Leg{{Speed: 2330}, {Speed: 3240}, {Speed: 1480}}
	setup := func(s *Setup, modes ...material.Mode) *Path { return check.Must(s.Path(modes)) }
	for _, test := range []struct {
		name, reason string
		path         *Path
		want         bool
	}{
		{"contact, direct", "no crossing", setup(check.Must(NewPlate(nil, steel, 16e-3)), material.L), true},
		{"contact, skip", "", setup(check.Must(NewPlate(nil, steel, 16e-3)), material.L, material.T), true},
		{"plane", "", setup(plate, material.T), true},
		{"two skips", "", setup(plate, material.T, material.T, material.L), true},
		{"contact length", "checked ray by ray", setup(&limited, material.T), true},
		{"pipe", "curved", setup(check.Must(NewPipe(&water, steel, 50e-3, 10e-3)), material.T), false},
		{"tapered, direct", "its back wall does not count", setup(&tapered, material.T), true},
		{"tapered, skip", "faces not parallel", setup(&tapered, material.T, material.T), false},
		{"through a far side", "the normal of the second plane points up", check.Must(NewPath(legs, []Crossing{{Surface: entry}, {Surface: upsideDown, From: Far}})), true},
		{"from the wrong side", "the ray cannot turn round between the planes", check.Must(NewPath(legs, []Crossing{{Surface: entry}, {Surface: upsideDown}})), false},
		{"planes in the wrong order", "the ray would have to go back", check.Must(NewPath(legs, []Crossing{{Surface: plate.Back}, {Surface: entry}})), false},
		{"the same plane twice", "no layer between", check.Must(NewPath(legs, []Crossing{{Surface: entry}, {Surface: entry}})), false},
	} {
		if got := newLayered(test.path) != nil; got != test.want {
			t.Errorf("%s (%s): in layers: %v, want %v", test.name, test.reason, got, test.want)
		}
	}
}

// randomLayers returns a path through one to four parallel planes at any tilt, with elements on one
// side and points on the other side. The last plane may reflect.
func randomLayers(rng *rand.Rand) (p *Path, elements, points []r3.Vec) {
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	normal := r3.Vec{X: within(-0.5, 0.5), Y: within(-0.5, 0.5), Z: 1}
	if rng.IntN(3) == 0 {
		normal.Y = 0
	}
	normal = r3.Unit(normal)
	n := 1 + rng.IntN(4)
	legs := []Leg{{Speed: within(1000, 7000)}}
	var crossings []Crossing
	depth, out := 0.0, 1.0
	for i := range n {
		at := r3.Add(r3.Scale(depth, normal), r3.Vec{X: 0.1 * normal.Z, Z: -0.1 * normal.X})
		crossings = append(crossings, Crossing{Surface: check.Must(NewPlane(at, normal))})
		legs = append(legs, Leg{Speed: within(1000, 7000)})
		if i > 0 && i == n-1 && rng.IntN(2) == 0 {
			crossings[i].Reflects, out = true, -1
			legs[i+1].Speed = legs[i].Speed // where the layers merge
		}
		depth += within(3e-3, 15e-3)
	}
	place := func(depth float64) r3.Vec {
		side := r3.Vec{X: within(-40e-3, 40e-3), Y: within(-40e-3, 40e-3), Z: within(-10e-3, 10e-3)}
		return r3.Add(r3.Sub(side, r3.Scale(r3.Dot(side, normal), normal)), r3.Scale(depth, normal))
	}
	last := r3.Dot(crossings[n-1].Surface.(*plane).origin, normal)
	for range 3 {
		elements = append(elements, place(-within(1e-3, 20e-3)))
	}
	for range 13 {
		points = append(points, place(last+out*within(-0.2e-3, 2.5e-3)))
	}
	return check.Must(NewPath(legs, crossings)), elements, points
}

// TestLayeredAgainstSolver compares tables of random layers and ends in space with the general
// solver.
func TestLayeredAgainstSolver(t *testing.T) {
	cases := geometries
	if testing.Short() {
		cases = 200
	}
	rng := rand.New(rand.NewPCG(5, 6))
	rays := 0
	for range cases {
		p, elements, points := randomLayers(rng)
		rays += compareWithSolver(t, p, layeredTable(t, p, elements, points), elements, points)
	}
	if all := 39 * cases; !(rays > all*8/10) {
		t.Errorf("only %d rays of %d exist", rays, all)
	}
}

// TestLayeredSetups compares every path of a plate up to two skips with the general solver. Points
// lie above, in and below the plate, with a contact length and without one.
func TestLayeredSetups(t *testing.T) {
	elements, points := wedgeElements()[:3], append(gridPoints(-5, -1.05, 1.3, 25, 16), mm(3, 7))
	for i := range points {
		points[i].Y = 1e-3 * float64(i%3)
	}
	wedged, touching := check.Must(NewPlate(&polystyrene, steel, 16e-3)), check.Must(NewPlate(nil, aluminium, 16e-3))
	limited := *wedged
	limited.Contact = &Interval{Min: -13e-3, Max: -10e-3}
	for name, setup := range map[string]*Setup{"wedge": wedged, "contact length": &limited, "contact": touching} {
		elements := elements
		if setup == touching {
			elements = lineElements(3, 1.1e-3, 0)
			elements[1].Z = 9e-6 // on the surface, to within the tolerance
		}
		for _, path := range []string{"L", "T", "LL", "LT", "TT", "TLT", "TTT"} {
			modes, _ := parseModes(path)
			p := check.Must(setup.Path(modes))
			rays := compareWithSolver(t, p, layeredTable(t, p, elements, points), elements, points)
			if all := len(elements) * len(points); !(rays > all/10 && rays < all) {
				t.Errorf("%s, %s: %d rays of %d: want some, and some missing",
					name, path, rays, all)
			}
		}
	}
}

// TestLayeredExtremes checks ends without refraction, and ends at extreme distances.
func TestLayeredExtremes(t *testing.T) {
	elements := []r3.Vec{mm(0, -10), {X: 1e170, Z: -1}, {Z: -1e160}, {Z: -1e-12}}
	points := []r3.Vec{mm(0, 5), {X: -1e170, Z: 1}, {X: 1e-300, Z: 1e-300}, {}, {X: 20e-3}, {Z: 1e160}, {Z: -0.5e-9}}
	p := check.Must(check.Must(NewPlate(&water, steel, 30e-3)).Path([]material.Mode{material.T}))
	table := layeredTable(t, p, elements, points)
	for e, from := range elements {
		for i, to := range points {
			got, r := float64(table.Seconds[e*len(points)+i]), p.Solve(from, to)
			if (r.Status == OK) != !math.IsNaN(got) {
				t.Errorf("from %v to %v: %v s, want %v (%v)", from, to, got, r.Time, r.Status)
			}
			// In the general solver each of the two legs is at least 1 nm long.
			if r.Status == OK && !(got == float64(float32(r.Time)) || math.Abs(got-r.Time) <= 1.1e-12+0x1p-24*r.Time) {
				t.Errorf("from %v to %v: %v s, want %v", from, to, got, r.Time)
			}
		}
	}
}

// TestLayeredOrder checks that a time depends only on its ray, not on the order of the points nor
// on the number of cores.
func TestLayeredOrder(t *testing.T) {
	p := check.Must(check.Must(NewPlate(&water, steel, 30e-3)).Path([]material.Mode{material.L, material.T}))
	elements, points := lineElements(3, 0.6e-3, -10e-3), gridPoints(-10, 0, 0.1, 51, 61)
	if len(points) <= 3*layers.Block {
		t.Fatalf("%d points fit three tasks of %d", len(points), layers.Block)
	}
	want := check.Must(p.Times(background, elements, points, nil))
	slices.Reverse(points)
	for _, n := range []int{1, 2, 3, 8} {
		got := check.Must(p.Times(background, elements, points, &TimesOptions{Workers: n}))
		for e := range elements {
			slices.Reverse(got.Seconds[e*len(points):][:len(points)])
		}
		if !slices.Equal(got.Seconds, want.Seconds) || got.Missing != want.Missing {
			t.Errorf("%d workers, points in reverse: another table", n)
		}
	}
}

// TestLayeredAllocations checks that a ray of a table needs no allocation.
func TestLayeredAllocations(t *testing.T) {
	p := check.Must(check.Must(NewPlate(&water, steel, 30e-3)).Path([]material.Mode{material.L, material.T}))
	elements, points := lineElements(2, 0.6e-3, -10e-3), gridPoints(-10, 1, 0.1, 30, 30)
	table := &Times{Elements: 2, Points: len(points), Seconds: make([]float32, 2*len(points))}
	do := newLayered(p).work(table, elements, points).worker()
	if n := testing.AllocsPerRun(3, func() { do(0) }); n != 0 {
		t.Errorf("%v allocations for %d rays, want none", n, len(table.Seconds))
	}
}
