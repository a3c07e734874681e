// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// The weld of the tests below, of sizes of common practice, no source: a cap, and a root bead.
var (
	underCap  = []Interval{{13e-3, 24e-3}}
	underRoot = []Interval{{16e-3, 20e-3}, {26e-3, 26.5e-3}}
)

// TestGaps checks the paths of a plate with gaps in its surfaces, through a wedge and in contact.
// It checks single rays and tables of all kinds, in the section and outside it. A ray must be
// missing if the ray of the plate without gaps meets a surface in a gap.
func TestGaps(t *testing.T) {
	for name, coupling := range map[string]*material.Isotropic{"wedge": &polystyrene, "contact": nil} {
		plate := check.Must(NewPlate(coupling, steel, 16e-3))
		elements := wedgeElements()[:4]
		if coupling == nil {
			elements = []r3.Vec{mm(-3, 0), mm(12.9, 0), mm(13.1, 0)}
		}
		grid := gridOf(2, 1, 1.9, 26, 8)
		points := grid.Points()
		for _, m := range [][]material.Mode{{material.T}, {material.T, material.T}, {material.L, material.T}, {material.T, material.T, material.T}} {
			plate.EntryGaps, plate.BackGaps = nil, nil
			free := check.Must(plate.Path(m))
			plate.EntryGaps, plate.BackGaps = underCap, underRoot
			path := check.Must(plate.Path(m))
			count := map[Status]int{}
			for _, y := range []float64{0, 2e-3} {
				for i := range points {
					points[i].Y = y
				}
				table := check.Must(path.Times(background, elements, points, nil))
				for e, from := range elements {
					for i, to := range points {
						r, whole := path.Solve(from, to), free.Solve(from, to)
						want := whole.Status
						for k := range m {
							if want != OK {
								break
							}
							gaps := [2][]Interval{underCap, underRoot}[k%2]
							for _, g := range gaps {
								if x := whole.Points[len(whole.Points)-1-len(m)+k].X; x > g.Min && x < g.Max {
									want = OffSurface
								}
							}
						}
						if r.Status != want || want == OK && r.Time != whole.Time {
							t.Fatalf("%s, %v: %v to %v: %v in %v s, want %v in %v s",
								name, m, from, to, r.Status, r.Time, want, whole.Time)
						}
						count[want]++
						if got := math.IsNaN(float64(table.Seconds[e*len(points)+i])); got != (want != OK) {
							t.Fatalf("%s, %v: %v to %v: %v s in the table, want %v",
								name, m, from, to, table.Seconds[e*len(points)+i], want)
						}
						if y == 0 && i%31 == 0 && whole.Status == OK {
							if all := check.Must(path.Rays(from, to, nil)); len(all) > 0 != (want == OK) {
								t.Errorf("%s, %v: %v to %v: %d rays, want %v",
									name, m, from, to, len(all), want)
							}
						}
					}
				}
				if y == 0 {
					woven := check.Must(path.Interpolate(background, elements, grid, nil))
					if woven.Missing != table.Missing {
						t.Errorf("%s, %v: %d rays missing among the interpolated ones, want %d",
							name, m, woven.Missing, table.Missing)
					}
				}
			}
			// No element of the wedge sends a direct ray through its entry gap.
			if count[OK] < 100 || count[OffSurface] < 20 && !(len(m) == 1 && coupling != nil) {
				t.Errorf("%s, %v: %v: too few to tell", name, m, count)
			}
		}
	}
	check.Error(t, OffSurface.Err(), "gap", "side")
}

// TestGapInterpolate checks that an interpolated table has the shadow of a gap much
// narrower than a cell, and of the end of the wedge, where the whole one has it, and
// still saves rays.
func TestGapInterpolate(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	plate.BackGaps = []Interval{{8e-3, 8.2e-3}, {30e-3, math.Inf(1)}}
	plate.Contact = &Interval{Min: -20e-3, Max: 1e-3}
	elements, grid := wedgeElements()[:3], gridOf(4, 0.1, 0.15, 160, 106)
	path := check.Must(plate.Path([]material.Mode{material.T, material.T}))
	want := check.Must(path.Times(background, elements, grid.Points(), nil))
	got := check.Must(path.Interpolate(background, elements, grid, nil))
	for i := range want.Seconds {
		a, b := float64(got.Seconds[i]), float64(want.Seconds[i])
		if math.IsNaN(a) != math.IsNaN(b) || math.Abs(a-b) > 1e-9 {
			t.Fatalf("entry %d is %v s, want %v s", i, a, b)
		}
	}
	if !(got.Rays < len(want.Seconds)*2/3) || want.Missing < 50 {
		t.Errorf("%d rays for %d times, %d missing", got.Rays, len(want.Seconds), want.Missing)
	}
}

// sided returns an array in contact on a plate that ends at x = ±20 mm.
func sided() *Setup {
	s := check.Must(NewPlate(nil, steel, 16e-3))
	s.Sides = []Surface{
		check.Must(NewPlane(mm(20, 0), r3.Vec{X: 1})),
		check.Must(NewPlane(mm(-20, 0), r3.Vec{X: -1})),
	}
	return s
}

// TestSides checks where rays end, start and skip in a part with ends.
func TestSides(t *testing.T) {
	straight := sided()
	// A back wall beyond the end.
	tilted := sided()
	tilted.Back = check.Must(NewPlane(mm(30, 0), r3.Vec{X: 1, Z: 0.3}))
	coupled := sided()
	coupled.Coupling = &water
	for _, test := range []struct {
		name     string
		setup    *Setup
		from, to r3.Vec
		modes    []material.Mode
		want     Status
	}{
		{"direct", straight, mm(0, 0), mm(19, 5), []material.Mode{material.T}, OK},
		{"on the side", straight, mm(0, 0), mm(20, 5), []material.Mode{material.T}, OK},
		{"beyond it", straight, mm(0, 0), mm(20.1, 5), []material.Mode{material.T}, EndOutside},
		{"beyond the other", straight, mm(0, 0), mm(-20.1, 5), []material.Mode{material.T, material.T}, EndOutside},
		{"from beyond", straight, mm(21, 0), mm(19, 5), []material.Mode{material.T}, OffSurface},
		{"skip", straight, mm(0, 0), mm(19, 5), []material.Mode{material.T, material.T}, OK},
		{"skip beyond the side", tilted, mm(15, 0), mm(15, 10), []material.Mode{material.T, material.T}, OffSurface},
		{"enters", coupled, mm(15, -5), mm(19, 5), []material.Mode{material.T}, OK},
		{"enters beyond the side", coupled, mm(40, -5), mm(19, 5), []material.Mode{material.T}, OffSurface},
	} {
		path := check.Must(test.setup.Path(test.modes))
		if got := path.Solve(test.from, test.to).Status; got != test.want {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
		table := check.Must(path.Times(background, []r3.Vec{test.from}, []r3.Vec{test.to}, nil))
		if got := math.IsNaN(float64(table.Seconds[0])); got != (test.want != OK) {
			t.Errorf("%s: %v s in the table, want %v", test.name, table.Seconds[0], test.want)
		}
	}
}

// TestSidesTables checks that tables of all kinds end at the sides of the part, and agree.
func TestSidesTables(t *testing.T) {
	s := sided()
	elements, grid := []r3.Vec{mm(-3, 0), mm(4, 0), mm(20, 0)}, gridOf(-25, 0, 0.5, 100, 40)
	for _, modes := range [][]material.Mode{{material.T}, {material.L, material.T}} {
		path := check.Must(s.Path(modes))
		points := grid.Points()
		table := check.Must(path.Times(background, elements, points, nil))
		woven := check.Must(path.Interpolate(background, elements, grid, nil))
		missing := 0
		for e := range elements {
			for i, q := range points {
				ends := math.Abs(q.X) <= 20e-3+1e-9 && (len(modes) == 1 || q.Z <= 16e-3)
				if !ends {
					missing++
				}
				for name, seconds := range map[string]float32{"whole": table.Seconds[e*len(points)+i], "interpolated": woven.Seconds[e*len(points)+i]} {
					if math.IsNaN(float64(seconds)) == ends {
						t.Fatalf("%v, %s: element %d to %v: %v s", modes, name, e, q, seconds)
					}
				}
			}
		}
		if missing != table.Missing || missing != woven.Missing {
			t.Errorf("%v: %d and %d rays missing, want %d",
				modes, table.Missing, woven.Missing, missing)
		}
		for _, q := range []r3.Vec{mm(12, 9), mm(-19.5, 3)} {
			if all := check.Must(path.Rays(mm(4, 0), q, nil)); len(all) != 1 {
				t.Errorf("%v: %d rays to %v, want 1", modes, len(all), q)
			}
		}
	}
}

// TestCornerEcho compares rays off the end of a plate, and off its back wall and its end, with
// mirror images: the length of the ray is the distance from its start to the image of its end.
func TestCornerEcho(t *testing.T) {
	s := sided()
	c := steel.Transverse
	end, back := Crossing{Surface: s.Sides[0], Reflects: true}, Crossing{Surface: s.Back, Reflects: true}
	leg := Leg{c, material.T}
	for _, test := range []struct {
		name      string
		crossings []Crossing
		from, to  r3.Vec
		image     r3.Vec
	}{
		{"off the end", []Crossing{end}, mm(-5, 0), mm(3, 10), mm(37, 10)},
		{"back wall, then end", []Crossing{back, end}, mm(-5, 0), mm(12, 4), mm(28, 28)},
		{"end, then back wall", []Crossing{end, back}, mm(5, 2), mm(-8, 1), mm(48, 31)},
		{"out of the section", []Crossing{back, end}, mm(-5, 0), r3.Vec{X: 12e-3, Y: 7e-3, Z: 4e-3}, r3.Vec{X: 28e-3, Y: 7e-3, Z: 28e-3}},
	} {
		legs := []Leg{leg}
		for range test.crossings {
			legs = append(legs, leg)
		}
		path := check.Must(NewPath(legs, test.crossings))
		r := path.Solve(test.from, test.to)
		if want := r3.Norm(r3.Sub(test.image, test.from)) / c; r.Status != OK || !(math.Abs(r.Time-want) <= 1e-14*want) {
			t.Errorf("%s: %v s (%v), want %v s", test.name, r.Time, r.Status, want)
			continue
		}
		for _, q := range r.Points {
			if !s.Inside(q) {
				t.Errorf("%s: the ray meets %v, outside of the part", test.name, q)
			}
		}
	}
}

// TestInside checks each bound of a part.
func TestInside(t *testing.T) {
	s := sided()
	s.Voids = []Outline{
		{{X: 5e-3, Y: 5e-3}, {X: 9e-3, Y: 5e-3}, {X: 9e-3, Y: 8e-3}, {X: 5e-3, Y: 5e-3}},
		{{X: -9e-3, Y: 5e-3}, {X: -5e-3, Y: 5e-3}, {X: -5e-3, Y: 8e-3}}, // open
	}
	for _, test := range []struct {
		name string
		at   r3.Vec
		want bool
	}{
		{"in the plate", mm(0, 5), true},
		{"on the entry surface", mm(0, 0), true},
		{"over it", mm(0, -0.1), false},
		{"on the back wall", mm(0, 16), true},
		{"under it", mm(0, 16.1), false},
		{"in a corner", mm(20, 16), true},
		{"beyond the end", mm(20.1, 10), false},
		{"beyond the other", mm(-20.1, 10), false},
		{"in a void", mm(8, 6), false},
		{"in a void, out of the section", r3.Vec{X: 8e-3, Y: 3e-3, Z: 6e-3}, false},
		{"on its edge", mm(8, 5), true},
		{"on its corner", mm(9, 8), true},
		{"beside it, at the height of a corner", mm(15, 5), true},
		{"left of it", mm(4, 6), true},
		{"under its slope", mm(6, 7), true},
		{"within an open outline", mm(-6, 6), true},
		{"nowhere", r3.Vec{X: math.NaN()}, false},
	} {
		if got := s.Inside(test.at); got != test.want {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
	s.Voids = []Outline{{r2.Vec{X: 1e-3}, r2.Vec{X: 1e-3}}}
	if !s.Inside(mm(1, 1)) {
		t.Error("a void of no area has a point inside")
	}
}

// TestGapInput checks that bad gaps and sides are rejected.
func TestGapInput(t *testing.T) {
	s := sided()
	for _, bad := range []Interval{{1, 1}, {2, 1}, {math.NaN(), 1}, {0, math.NaN()}} {
		s.EntryGaps = []Interval{{0, math.Inf(1)}, bad}
		check.Error(t, s.Validate(), "gap 1 of the entry surface", "ascending")
		s.EntryGaps, s.BackGaps = nil, []Interval{bad}
		check.Error(t, s.Validate(), "gap 0 of the back wall", "ascending")
		s.BackGaps = nil
	}
	s.Sides = append(s.Sides, nil)
	check.Error(t, s.Validate(), "side 2", "missing")
}
