// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// groupMesh is a fine mesh of triangles of phase directions over half the sphere, with the group
// velocities at their corners: a slow and simple way to count arrivals. A direction belongs to a
// triangle if the three group velocities of the triangle surround the direction or its opposite.
type groupMesh struct {
	christoffel *Christoffel
	directions  []r3.Vec
	hits        [][]groupHit // for each direction, the triangles that it belongs to
}

// groupHit is one corner of a triangle, with the sign for which its energy travels along the
// direction.
type groupHit struct{ normal, polarisation r3.Vec }

const (
	meshEdge   = 60                // squares along the edge of a cube's face, 1.5° each
	meshSpread = 2 * math.Pi / 180 // of the group directions of one triangle
	meshSplits = 8                 // of triangles that spread further
)

// newGroupMesh counts the directions in triangles. The triangles divide squares on the faces of a
// cube.
func newGroupMesh(c *Christoffel, directions []r3.Vec) *groupMesh {
	m := &groupMesh{c, directions, make([][]groupHit, len(directions))}
	axes := [3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	for face := range axes {
		var waves [meshEdge + 1][meshEdge + 1][3]PlaneWave
		for i := range waves {
			for j := range waves[i] {
				x, y := 2*float64(i)/meshEdge-1, 2*float64(j)/meshEdge-1
				waves[i][j] = c.phase(r3.Unit(onPlane(axes[face], axes[(face+1)%3], axes[(face+2)%3], x, y)))
			}
		}
		for i := range meshEdge {
			for j := range meshEdge {
				m.add(waves[i][j], waves[i+1][j], waves[i+1][j+1], meshSplits)
				m.add(waves[i][j], waves[i+1][j+1], waves[i][j+1], meshSplits)
			}
		}
	}
	return m
}

// add adds both quasi-transverse waves of the triangle with the given corners. It matches the waves
// of the corners by polarisation and so follows sheets that cross. It splits a triangle, up to the
// given number of times, if the group directions spread by more than meshSpread or the waves cannot
// be matched. A triangle that still fails lies at an acoustic axis and is left out.
func (m *groupMesh) add(p, q, r [3]PlaneWave, splits int) {
	pq, qr, rp := followed(p, q), followed(q, r), followed(r, p)
	closed := pq*qr*rp != 0 && (pq+qr+rp)%2 == 1 // an even number of exchanges closes the loop
	var waves [2][3]PlaneWave
	spread := 0.0
	for s := range waves {
		at := s
		a := p[1+at]
		if pq == 2 {
			at = 1 - at
		}
		b := q[1+at]
		if qr == 2 {
			at = 1 - at
		}
		c := r[1+at]
		waves[s] = [3]PlaneWave{a, b, c}
		spread = max(spread, groupAngle(a.Group, b.Group), groupAngle(b.Group, c.Group),
			groupAngle(c.Group, a.Group))
	}
	if splits > 0 && (!closed || spread > meshSpread) {
		x, y, z := m.midway(p, q), m.midway(q, r), m.midway(r, p)
		m.add(p, x, z, splits-1)
		m.add(x, q, y, splits-1)
		m.add(z, y, r, splits-1)
		m.add(x, y, z, splits-1)
		return
	}
	if !closed || spread > meshSpread {
		return
	}
	for _, w := range waves {
		m.count(w)
	}
}

// count adds the directions that belong to the triangle of the given waves.
func (m *groupMesh) count(w [3]PlaneWave) {
	sides := [3]r3.Vec{
		r3.Cross(w[1].Group, w[2].Group),
		r3.Cross(w[2].Group, w[0].Group),
		r3.Cross(w[0].Group, w[1].Group),
	}
	for i, d := range m.directions {
		a, b, c := r3.Dot(sides[0], d), r3.Dot(sides[1], d), r3.Dot(sides[2], d)
		if a > 0 && b > 0 && c > 0 || a < 0 && b < 0 && c < 0 {
			normal := r3.Scale(math.Copysign(1, r3.Dot(w[0].Group, d)), w[0].Normal)
			m.hits[i] = append(m.hits[i], groupHit{normal, w[0].Polarisation})
		}
	}
}

// midway returns the waves half-way between two corners.
func (m *groupMesh) midway(p, q [3]PlaneWave) [3]PlaneWave {
	return m.christoffel.phase(r3.Unit(r3.Add(p[0].Normal, q[0].Normal)))
}

// followed returns 1 if the quasi-transverse waves of p have the same order in q by polarisation, 2
// if the order is exchanged, and 0 if the order is not clear.
func followed(p, q [3]PlaneWave) int {
	kept := math.Abs(r3.Dot(p[1].Polarisation, q[1].Polarisation))
	switch {
	case p[1].Degenerate || q[1].Degenerate:
		return 0
	case kept > 0.8:
		return 1
	case kept < 0.6:
		return 2
	}
	return 0
}

// groupAngle returns the angle between p and q in radians. It is exact for small angles.
func groupAngle(p, q r3.Vec) float64 {
	return math.Atan2(r3.Norm(r3.Cross(p, q)), r3.Dot(p, q))
}

// TestArrivalCount compares the arrivals with a mesh of triangles that is finer than the scan of
// the solver. The solids are invented and random, and their wave surfaces have up to a dozen folds:
//
//   - from every triangle around the direction, Newton's method finds an arrival that is in the
//     list, or none;
//   - no arrival is in the list twice, and the energy of each travels along the direction;
//   - the number of triangles is the number of arrivals, except for directions so close to a
//     caustic or an acoustic axis that flat triangles miss the arrival.
func TestArrivalCount(t *testing.T) { countArrivals(t, 1) }

// countArrivals is TestArrivalCount with the given number of solids of each kind.
func countArrivals(t *testing.T, solids int) {
	const directions = 50
	for i, solid := range randomSolids {
		t.Run(solid.name, func(t *testing.T) {
			if testing.Short() && i > 0 {
				t.Skip("one kind of solid is enough for a short run")
			}
			rng := rand.New(rand.NewPCG(1, 2))
			unequal, folded := 0, 0
			for range solids {
				s := check.Must(NewGroupSolver(solid.make(rng)))
				var all []r3.Vec
				for range directions {
					all = append(all, randomDirection(rng))
				}
				mesh := newGroupMesh(s.christoffel, all)
				for i, d := range all {
					list := arrivalsAlong(t, s, d)
					if list[0].Sheet != QL {
						t.Errorf("first along %v is %v, want qL", d, list[0].Sheet)
					}
					checkArrivals(t, list, d)
					mesh.checkListed(t, list, i)
					if len(list)-1 != len(mesh.hits[i]) {
						unequal++
					}
					if len(list) > 3 {
						folded++
					}
				}
			}
			if limit := solids * directions / 25; unequal > limit {
				t.Errorf("%d of %d counts differ from the mesh, want at most %d",
					unequal, solids*directions, limit)
			}
			if folded == 0 {
				t.Error("no direction with a fold: nothing was tested")
			}
		})
	}
}

// TestArrivalsWhereSheetsMeet uses a direction with five arrivals. Two of them come from a strip
// between cells next to an acoustic axis that is too narrow for the mesh. The group velocity of
// each arrival is checked. A seeded search found the solid and the direction.
func TestArrivalsWhereSheetsMeet(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 77))
	s := check.Must(NewGroupSolver(randomOrthotropic(rng)))
	d := randomDirection(rng)
	list := arrivalsAlong(t, s, d)
	checkArrivals(t, list, d)
	if len(list) != 5 {
		t.Errorf("%d arrivals along %v, want 5", len(list), d)
	}
}

// TestArrivalsOfSplitCells uses an invented cubic solid with the anisotropy 4.8, above all metals.
// The group directions in a cell spread so far that a solver without split cells misses one of
// eleven arrivals. The group velocity of each arrival is checked.
func TestArrivalsOfSplitCells(t *testing.T) {
	s := check.Must(NewGroupSolver(Anisotropic{5000, Cubic{C11: 100e9, C12: 58.726e9, C44: 99.288e9}.Stiffness()}))
	d := r3.Unit(r3.Vec{X: -0.018845, Y: 0.864593, Z: 0.502119})
	list := arrivalsAlong(t, s, d)
	checkArrivals(t, list, d)
	if len(list) != 11 {
		t.Errorf("%d arrivals along %v, want 11", len(list), d)
	}
}

// checkArrivals checks each arrival along d alone, and their order.
func checkArrivals(t *testing.T, list []PlaneWave, d r3.Vec) {
	t.Helper()
	for i, a := range list {
		if misfit := groupAngle(a.Group, d); !(misfit <= arrivalMisfit) {
			t.Errorf("%v along %v: group velocity off by %v rad", a.Sheet, d, misfit)
		}
		for _, b := range list[:i] {
			if a.Sheet == b.Sheet && groupAngle(a.Normal, b.Normal) < 1e-7 {
				t.Errorf("%v along %v: listed twice", a.Sheet, d)
			}
			if a.GroupSpeed() > b.GroupSpeed() {
				t.Errorf("%v along %v: not in order of arrival", a.Sheet, d)
			}
		}
	}
}

// checkListed checks that list has every arrival that Newton's method finds from the triangles of
// direction i.
func (m *groupMesh) checkListed(t *testing.T, list []PlaneWave, i int) {
	t.Helper()
	c, d := m.christoffel, m.directions[i]
	for _, hit := range m.hits[i] {
		n, p, ok := c.stationaryNear(hit.normal, hit.polarisation, d)
		if !ok {
			continue
		}
		from, to := c.sheetsOf(n, p)
		for sheet := from; sheet < to; sheet++ {
			if a, ok := c.arrivalAt(n, d, sheet); ok && !slices.ContainsFunc(list, a.sameAs) {
				t.Errorf("%v along %v: not found with normal %v", sheet, d, n)
			}
		}
	}
}
