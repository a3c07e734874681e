// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// unknown hides the kind of a surface, so that the surface is sampled.
type unknown struct{ Surface }

// TestBlocks compares the closed forms for lines that pass through a surface with samples along the
// lines, and surfaces of an unknown kind with surfaces of a known kind.
func TestBlocks(t *testing.T) {
	for name, s := range map[string]Surface{
		"convex cylinder":  check.Must(NewCylinder(mm(1, 6), r3.Vec{Y: 1}, 6e-3, Convex)),
		"concave cylinder": check.Must(NewCylinder(mm(1, -9), r3.Vec{Y: 1}, 10e-3, Concave)),
		"skew cylinder":    check.Must(NewCylinder(mm(1, 6), r3.Vec{X: 0.4, Y: 1, Z: 0.2}, 6e-3, Convex)),
		"profile":          check.Must(NewProfile(wavy())),
		"plane":            check.Must(NewPlane(mm(1, 0), r3.Vec{X: 0.3, Z: 1})),
	} {
		rng := rand.New(rand.NewPCG(11, 12))
		point := func() r3.Vec {
			return r3.Vec{X: 30e-3 * (rng.Float64() - 0.5), Y: 30e-3 * (rng.Float64() - 0.5), Z: 4e-3 * (rng.Float64() - 0.5)}
		}
		count := map[bool]int{}
		for range 1500 {
			from, to := point(), point()
			for _, b := range []bound{{s, Near}, {s, Far}} {
				if !b.admits(from) || !b.admits(to) {
					continue
				}
				worst := 0.0 // how far the line gets to the wrong side, m
				for i := range 1000 {
					depth := s.Depth(between(from, to, float64(i)/1000))
					if b.side == Far {
						depth = -depth
					}
					worst = max(worst, depth)
				}
				if math.Abs(worst) < 1e-6 && worst > 0 {
					continue // it grazes, which samples do not tell
				}
				want := worst > 0
				got := b.blocks(from, to)
				if convex(b) {
					got = false
				}
				count[got]++
				if got != want {
					t.Fatalf("%s, side %d: line from %v to %v passes through: %v, by samples %v (%v m)",
						name, b.side, from, to, got, want, worst)
				}
				if hidden := (bound{unknown{s}, b.side}); worst > 1e-4 && !hidden.blocks(from, to) {
					t.Errorf("%s: line from %v to %v passes through by %v m, which its samples do not see",
						name, from, to, worst)
				}
			}
		}
		if name != "plane" && (count[true] < 20 || count[false] < 20) {
			t.Errorf("%s: %v lines pass through, or not: too few to tell", name, count)
		}
	}
}

// TestClearance compares the clearance of lines from a profile with its definition at a hundred times
// as many points: lines with none, one or both of their ends on the curve, steep and level.
func TestClearance(t *testing.T) {
	p := check.Must(newProfile(wavy()))
	rng := rand.New(rand.NewPCG(13, 14))
	depth := func(q r3.Vec) float64 { z, _, _ := p.curve(q.X); return q.Z - z }
	for range 1000 {
		// Both ends lie on the far side.
		ends, on := [2]r3.Vec{}, [2]bool{rng.IntN(3) == 0, rng.IntN(3) == 0}
		width := []float64{2e-3, 24e-3}[rng.IntN(2)]
		for i := range ends {
			ends[i] = r3.Vec{X: width * (rng.Float64() - 0.5)}
			if ends[i].Z -= depth(ends[i]); !on[i] {
				ends[i].Z += 6e-3 * rng.Float64()
			}
		}
		length, want := r3.Norm(r3.Sub(ends[1], ends[0])), math.Inf(1)
		for i := range 3201 {
			share, scale := float64(i)/3200, length
			if on[0] {
				scale *= share
			}
			if on[1] {
				scale *= 1 - share
			}
			if scale > 0 {
				want = min(want, depth(between(ends[0], ends[1], share))/scale)
			}
		}
		got := bound{p, Far}.clearance(ends[0], ends[1], on[0], on[1])
		// The samples may pass the smallest depth. The closed form takes the curve as steep as it is
		// anywhere, up or down.
		if !(got <= want+0.02 && got >= want-2*p.steep) {
			t.Errorf("line from %v to %v, ends on the curve: %v: clearance %v, want %v", ends[0], ends[1], on, got, want)
		}
	}
}

// TestLegThatEndsInACylinder checks that a cylinder blocks a leg only if both ends of the leg lie
// outside the cylinder. Other legs end on the wrong side, which has its own status.
func TestLegThatEndsInACylinder(t *testing.T) {
	c := check.Must(newCylinder(mm(0, 10), r3.Vec{Y: 1}, 5e-3, Convex))
	for _, row := range []struct {
		name     string
		from, to r3.Vec
		want     bool
	}{
		{"through", mm(-9, 10), mm(9, 11), true},
		{"past", mm(-9, 4), mm(9, 4), false},
		{"ends inside, beyond the middle", mm(-9, 10), mm(3, 11), false},
		{"starts inside, before the middle", mm(-3, 11), mm(9, 10), false},
		{"inside", mm(-3, 10), mm(3, 11), false},
		{"towards it, but ends before", mm(-9, 10), mm(-6, 10), false},
	} {
		if got := c.between(row.from, row.to); got != row.want {
			t.Errorf("%s: %v, want %v", row.name, got, row.want)
		}
	}
}

// TestObstructed checks direct rays around a pipe. A ray to a point of the wall exists as long as
// it passes beside the bore. A contact probe on the top of the pipe reaches the points of the inner
// wall up to the tangent of the bore, in closed form.
func TestObstructed(t *testing.T) {
	const outer, wall = 50e-3, 10e-3
	const inner = outer - wall
	pipe := check.Must(NewPipe(nil, steel, outer, wall))
	p := check.Must(pipe.Path([]material.Mode{material.T}))
	radius := (inner + outer) / 2
	// The tangent from the top touches the bore at the angle acos(inner/outer). It reaches the
	// middle of the wall after another acos(inner/radius).
	limit := math.Acos(inner/outer) + math.Acos(inner/radius)
	var points []r3.Vec
	var want []Status
	for angle := 0.02; angle < math.Pi; angle += 0.01 {
		sin, cos := math.Sincos(angle)
		points = append(points, r3.Vec{X: radius * sin, Z: outer - radius*cos})
		if want = append(want, OK); angle > limit {
			want[len(want)-1] = Obstructed
		}
	}
	table := check.Must(p.Times(background, []r3.Vec{{}}, points, nil))
	missing := 0
	for i, q := range points {
		r := p.Solve(r3.Vec{}, q)
		if r.Status != want[i] {
			t.Errorf("point %v: %v, want %v", q, r.Status, want[i])
		}
		if got := math.IsNaN(float64(table.Seconds[i])); got != (want[i] != OK) {
			t.Errorf("point %v: %v s in the table, want a time: %v",
				q, table.Seconds[i], want[i] == OK)
		}
		if want[i] != OK {
			missing++
			check.Error(t, r.Status.Err(), "leaves its medium")
		}
	}
	if table.Missing != missing || missing == 0 {
		t.Errorf("%d rays missing, want %d", table.Missing, missing)
	}
	// For a direct path, a point in the bore counts as a point of a thicker wall.
	if r := p.Solve(r3.Vec{}, r3.Vec{Z: outer}); r.Status != OK {
		t.Errorf("point beyond the back wall: %v", r.Status)
	}
}

// TestContact checks that rays enter only where the wedge touches the part, as single rays and in
// tables, in the section and outside it.
func TestContact(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	free := check.Must(plate.Path([]material.Mode{material.T}))
	plate.Contact = &Interval{Min: -5e-3, Max: 2e-3}
	bounded := check.Must(plate.Path([]material.Mode{material.T}))
	elements, grid := wedgeElements()[:8], gridOf(-10, 1, 0.5, 60, 28)
	points := grid.Points()
	for i := range points {
		points[i].Y = 1e-3 * float64(i%2) // every other one out of the section
	}
	table := check.Must(bounded.Times(background, elements, points, nil))
	count := map[Status]int{}
	for e, from := range elements {
		for i, to := range points {
			r, want := bounded.Solve(from, to), OK
			if x := free.Solve(from, to).Points[1].X; x < -5e-3 || x > 2e-3 {
				want = OffContact
			}
			count[r.Status]++
			if r.Status != want {
				t.Fatalf("%v to %v: %v, want %v", from, to, r.Status, want)
			}
			if got := math.IsNaN(float64(table.Seconds[e*len(points)+i])); got != (want != OK) {
				t.Fatalf("%v to %v: %v s in the table, want %v",
					from, to, table.Seconds[e*len(points)+i], want)
			}
		}
	}
	if count[OK] < 100 || count[OffContact] < 100 {
		t.Errorf("%v: too few to tell", count)
	}
	check.Error(t, OffContact.Err(), "contact length")
	for _, bad := range []Interval{{1, 0}, {math.NaN(), 1}, {0, math.Inf(1)}} {
		plate.Contact = &bad
		_, err := plate.Path([]material.Mode{material.T})
		check.Error(t, err, "contact length", "ascending")
	}
	plate.Contact, plate.Coupling = &Interval{0, 1}, nil
	check.Error(t, plate.Validate(), "contact length", "coupling")
}
