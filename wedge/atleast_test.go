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

// uneven returns measured points at uneven distances, also of steep parts, of an invented part.
func uneven(rng *rand.Rand) []r3.Vec {
	var points []r3.Vec
	for x := -20e-3; x < 20e-3; x += 0.1e-3 + 3e-3*rng.Float64()*rng.Float64() {
		points = append(points, r3.Vec{X: x, Z: 2e-3 * rng.Float64()})
	}
	return points
}

// TestAtLeast compares the fast depth with the true depth, beside the surface, on it, and far
// away. The fast depth may not be larger, and must have the same sign. So a bound admits the
// points that the true depth admits.
func TestAtLeast(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	all := surfaces()
	for range 5 {
		all["uneven profile"] = check.Must(NewProfile(uneven(rng)))
		for name, s := range all {
			rng := rand.New(rand.NewPCG(9, uint64(len(name)))) // no result depends on the order of the map
			for range 300 {
				at := s.At(60e-3*(rng.Float64()-0.5), 30e-3*(rng.Float64()-0.5))
				away := math.Pow(10, -10+9*rng.Float64()) * float64(rng.IntN(3)-1)
				q := r3.Add(at.P, r3.Scale(away, at.Normal()))
				depth := s.Depth(q)
				for _, b := range []bound{{s, Near}, {s, Far}} {
					right := depth
					if b.side == Near {
						right = -depth
					}
					fast := b.atLeast(q)
					if slack := 1e-15 + 1e-12*math.Abs(depth); !(math.Abs(fast) <= math.Abs(depth)+slack) || !(fast*right >= 0 || math.Abs(depth) <= slack) {
						t.Fatalf("%s, side %d: %v at least, true depth %v of %v", name, b.side, fast, right, q)
					}
					if b.admits(q) != (right >= -tolerance) {
						t.Fatalf("%s, side %d: admits %v m deep: %v", name, b.side, right, b.admits(q))
					}
				}
			}
		}
	}
}

// TestBefore compares the guess of the span of a profile with a search, at uneven distances, at
// the points themselves and beside them.
func TestBefore(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for _, points := range [][]r3.Vec{wavy(), uneven(rng)} {
		p := check.Must(newProfile(points))
		for range 2000 {
			x := points[rng.IntN(len(points))].X + []float64{0, 1e-18, -1e-18, 1e-3 * rng.NormFloat64()}[rng.IntN(4)]
			want := -1
			for i := range p.x {
				if p.x[i] < x {
					want = i
				}
			}
			if got := p.before(x); got != want {
				t.Fatalf("point %d before x = %v m, want %d", got, x, want)
			}
		}
	}
}

// TestHolds compares the search of a rectangle for points where no ray may end with a look at each
// point.
func TestHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	whole, part := 0, 0
	for _, entry := range []Surface{check.Must(NewProfile(waves(1e-3, 500))), check.Must(NewCylinder(mm(0, -12), r3.Vec{Y: 1}, 12e-3, Concave))} {
		setup := &Setup{Coupling: &water, Part: steel, Entry: entry}
		p := check.Must(setup.Path([]material.Mode{material.L}))
		w := newCellFiller(p, gridOf(-10, -1, 0.1, 200, 40).lattices()[0], 1e-10)
		if w.convex {
			t.Fatal("a convex part, which needs no search")
		}
		for range 500 {
			row, column := rng.IntN(40), rng.IntN(200)
			rows, columns := rng.IntN(40-row), rng.IntN(200-column)
			want := true
			for r := row; r <= row+rows; r++ {
				for c := column; c <= column+columns; c++ {
					want = want && p.endsAt(w.lattice.at(r, c))
				}
			}
			if want {
				whole++
			} else {
				part++
			}
			if got := w.holds(row, column, rows, columns); got != want {
				t.Fatalf("%d × %d points from row %d, column %d: %v, want %v", rows+1, columns+1, row, column, got, want)
			}
		}
	}
	if whole < 100 || part < 100 {
		t.Errorf("%d rectangles inside, %d not, want many of both", whole, part)
	}
}
