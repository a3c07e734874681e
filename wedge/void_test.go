// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// star returns a closed outline of seven corners at random distances from a point, in metres.
func star(rng *rand.Rand, x, z float64) Outline {
	var o Outline
	for i := range 7 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 7)
		radius := 1e-3 * (0.3 + 2*rng.Float64())
		o = append(o, r2.Vec{X: x + radius*cos, Y: z + radius*sin})
	}
	return append(o, o[0])
}

// encloses reports by the even-odd rule whether p lies in the outline.
func encloses(o Outline, p r3.Vec) bool {
	odd := false
	for i := range len(o) - 1 {
		a, b := o[i], o[i+1]
		if (a.Y > p.Z) != (b.Y > p.Z) && p.X < a.X+(p.Z-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			odd = !odd
		}
	}
	return odd
}

// passes returns how many of a thousand samples of the line lie inside the outline.
func passes(o Outline, from, to r3.Vec) (count int) {
	for i := range 1001 {
		if encloses(o, between(from, to, float64(i)/1000)) {
			count++
		}
	}
	return count
}

// TestVoidBlocks compares lines between points outside random polygons with samples along the
// lines.
func TestVoidBlocks(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	point := func() r3.Vec { return r3.Vec{X: 8e-3 * (rng.Float64() - 0.5), Z: 8e-3 * (rng.Float64() - 0.5)} }
	blocked, free := 0, 0
	for range 3000 {
		o := star(rng, 0, 0)
		v := newVoid(o)
		from, to := point(), point()
		if encloses(o, from) || encloses(o, to) {
			continue
		}
		got, want := v.blocks(flat(from), flat(to)), passes(o, from, to)
		switch {
		case got != v.blocks(flat(to), flat(from)):
			t.Fatalf("%v to %v: %v, but not the other way", from, to, got)
		case want > 0 && !got:
			t.Fatalf("%v to %v passes through %v, unnoticed", from, to, o)
		case want == 0 && got:
			// A corner may lie between two samples.
			if n := passes(o, from, to) + fineCount(o, from, to); n == 0 {
				t.Fatalf("%v to %v is blocked by %v", from, to, o)
			}
		}
		if got {
			blocked++
		} else {
			free++
		}
	}
	if blocked < 500 || free < 500 {
		t.Errorf("%d blocked, %d free: too few to tell", blocked, free)
	}
}

// fineCount is passes with a hundred times as many samples.
func fineCount(o Outline, from, to r3.Vec) (count int) {
	for i := range 100 {
		count += passes(o, between(from, to, float64(i)/100), between(from, to, float64(i+1)/100))
	}
	return count
}

// TestVoidEdges checks lines that end on a void, meet a corner, or run along an edge.
func TestVoidEdges(t *testing.T) {
	square := Outline{{X: 0, Y: 0}, {X: 1, Y: 0}, {X: 1, Y: 1}, {X: 0, Y: 1}, {X: 0, Y: 0}}
	crack := Outline{{X: 0, Y: 0}, {X: 0, Y: 1}}
	for _, test := range []struct {
		name       string
		void       Outline
		x, z, u, w float64
		want       bool
	}{
		{"through the middle", square, -1, .5, 2, .5, true},
		{"beside", square, -1, 2, 2, 2, false},
		{"short of it", square, -2, .5, -1, .5, false},
		{"to the near face", square, -1, .5, 0, .5, false},
		{"from the far face away", square, 1, .5, 2, .5, false},
		{"to the far face", square, -1, .5, 1, .5, true},
		{"to the inside", square, -1, .5, .5, .5, true},
		{"along a face", square, -1, 0, 2, 0, false},
		{"through two corners", square, -1, -1, 2, 2, true},
		{"through one corner to the opposite one", square, -1, -1, 1, 1, true},
		{"to a corner from outside", square, -1, -1, 0, 0, false},
		{"through a crack", crack, -1, .5, 1, .5, true},
		{"past its tip", crack, -1, 1.001, 1, 1.001, false},
		{"to its tip", crack, -1, .5, 0, 1, false},
		{"from its tip", crack, 0, 1, 1, .5, false},
		{"along a crack", crack, 0, -1, 0, 2, false},
		{"no length", crack, 0, .5, 0, .5, false},
	} {
		v := newVoid(test.void)
		a, b := point{test.x, test.z}, point{test.u, test.w}
		if got := v.blocks(a, b); got != test.want {
			t.Errorf("%s: blocked %v, want %v", test.name, got, test.want)
		}
		if got := v.blocks(b, a); got != test.want {
			t.Errorf("%s, the other way: blocked %v, want %v", test.name, got, test.want)
		}
	}
}

// TestVoids checks the paths of a plate with voids, through a wedge and in contact. It compares
// single rays and tables of all kinds, in the section and outside it, with samples along the rays
// of the plate without voids.
func TestVoids(t *testing.T) {
	for name, coupling := range map[string]*material.Isotropic{"wedge": &polystyrene, "contact": nil} {
		rng := rand.New(rand.NewPCG(23, 24))
		plate := check.Must(NewPlate(coupling, steel, 16e-3))
		modes := [][]material.Mode{{material.T}, {material.L, material.T}}
		elements := wedgeElements()[:2]
		if coupling == nil {
			elements = lineElements(2, 0.6e-3, 0)
		}
		voids := []Outline{star(rng, 14e-3, 6e-3), star(rng, 20e-3, 11e-3)}
		grid := gridOf(4, 1, 1.5, 20, 10)
		points := grid.Points()
		count := map[Status]int{}
		for _, m := range modes {
			plate.Voids = nil
			free := check.Must(plate.Path(m))
			plate.Voids = voids
			path := check.Must(plate.Path(m))
			for _, y := range []float64{0, 2e-3} {
				for i := range points {
					points[i].Y = y
				}
				table := check.Must(path.Times(background, elements, points, nil))
				for e, from := range elements {
					for i, to := range points {
						r, without := path.Solve(from, to), free.Solve(from, to)
						want, sure := without.Status, true
						if without.Status == OK {
							inside := 0
							legs := without.Points[len(without.Points)-1-len(m):]
							for k := range m {
								for _, v := range voids {
									inside += passes(v, legs[k], legs[k+1])
								}
							}
							if inside > 0 {
								want = Obstructed
							}
							sure = inside == 0 && r.Status == OK || inside > 0
						}
						if sure && r.Status != want {
							t.Fatalf("%s, %v: %v to %v: %v, want %v",
								name, m, from, to, r.Status, want)
						}
						count[r.Status]++
						if got := math.IsNaN(float64(table.Seconds[e*len(points)+i])); got != (r.Status != OK) {
							t.Fatalf("%s, %v: %v to %v: %v s in the table, want %v",
								name, m, from, to, table.Seconds[e*len(points)+i], r.Status)
						}
						if y != 0 || i%10 != 0 || without.Status != OK {
							continue
						}
						if all := check.Must(path.Rays(from, to, nil)); len(all) > 0 != (r.Status == OK) {
							t.Errorf("%s, %v: %v to %v: %d rays, want %v",
								name, m, from, to, len(all), r.Status)
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
		}
		if count[OK] < 100 || count[Obstructed] < 100 {
			t.Errorf("%s: %v: too few to tell", name, count)
		}
	}
}

// TestVoidInterpolate checks that an interpolated table has the same shadow as a full table for a
// crack much thinner than a cell, and still needs fewer rays.
func TestVoidInterpolate(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	plate.Voids = []Outline{{{X: 20e-3, Y: 15.2e-3}, {X: 20e-3, Y: 16e-3}}}
	elements, grid := wedgeElements()[:3], gridOf(4, 0.1, 0.15, 160, 106)
	for _, modes := range [][]material.Mode{{material.T}, {material.T, material.T}} {
		path := check.Must(plate.Path(modes))
		want := check.Must(path.Times(background, elements, grid.Points(), nil))
		got := check.Must(path.Interpolate(background, elements, grid, nil))
		for i := range want.Seconds {
			a, b := float64(got.Seconds[i]), float64(want.Seconds[i])
			if math.IsNaN(a) != math.IsNaN(b) || math.Abs(a-b) > 1e-9 {
				t.Fatalf("%v: entry %d is %v s, want %v s", modes, i, a, b)
			}
		}
		if len(modes) == 1 && !(got.Rays < len(want.Seconds)/2) || want.Missing < 50 {
			t.Errorf("%v: %d rays for %d times, %d missing",
				modes, got.Rays, len(want.Seconds), want.Missing)
		}
	}
}

// TestVoidInput checks that a path keeps its voids, and that bad voids are rejected.
func TestVoidInput(t *testing.T) {
	plate := check.Must(NewPlate(nil, steel, 16e-3))
	plate.Voids = []Outline{{{X: 5e-3, Y: 0}, {X: 5e-3, Y: 10e-3}}}
	path := check.Must(plate.Path([]material.Mode{material.T}))
	plate.Voids[0][1] = r2.Vec{X: 5e-3, Y: 1e-6}
	if r := path.Solve(r3.Vec{}, mm(10, 10)); r.Status != Obstructed {
		t.Errorf("after the outline was changed: %v, want Obstructed", r.Status)
	}
	check.Error(t, Obstructed.Err(), "void")
	for _, bad := range []Outline{nil, {{}}, {{}, {X: math.NaN()}}, {{Y: math.Inf(1)}, {}}} {
		plate.Voids = []Outline{{{}, {X: 1}}, bad}
		_, err := plate.Path([]material.Mode{material.T})
		check.Error(t, err, "void 1", "want")
	}
}
