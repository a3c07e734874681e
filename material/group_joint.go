// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// The sheets of the slowness surface have no derivatives where they meet, and the quasi-transverse
// sheets of metals meet often near the folds. The function of phase direction q and polarisation p
// together,
//
//	φ(q, p) = ½ a_ijkl p_i q_j p_k q_l,   |p| = 1,
//
// is a polynomial without sheets. It is stationary in p where p is an eigenvector of Γ(q), and its
// value there is ½v². If it is also stationary on the plane across d, the energy travels along d.
// Newton's method therefore works on φ with four variables: two along the plane and two rotations
// of p.

const (
	jointSteps   = 50    // the most steps; 4 to 8 are usual, a caustic takes about 30
	jointReach   = 0.15  // the longest step, in radians of p and parts of |q|
	jointSettled = 1e-14 // a step of this size is rounding
	jointFlat    = 1e-11 // a pivot below this part of the largest is taken as 0

	// A search whose steps are long after a dozen steps has no solution near its start. Searches
	// next to a caustic need more steps, but these steps are short.
	jointTrial = 12
	jointLost  = 0.05
)

// stationaryNear returns a phase direction and a polarisation for which φ is stationary on the
// plane across the unit vector d. The search starts at the unit vectors n and p. The last result is
// false if the search finds no solution.
func (c *Christoffel) stationaryNear(n, p, d r3.Vec) (normal, polarisation r3.Vec, ok bool) {
	along := r3.Dot(n, d)
	if !(along > 1e-3) {
		return n, p, false
	}
	e1, e2 := planeAcross(d)
	q := r3.Scale(1/along, n)
	for i := range jointSteps {
		length := math.Sqrt(r3.Norm2(q))
		if !(length < 1e3) {
			return n, p, false
		}
		t1, t2 := planeAcross(p)
		step := c.jointSystem(q, p, [2]r3.Vec{e1, e2}, [2]r3.Vec{t1, t2}, length).solve()
		size := math.Sqrt(max(step[0]*step[0]+step[1]*step[1], step[2]*step[2]+step[3]*step[3]))
		shrink := min(1, jointReach/size)
		q = onPlane(q, e1, e2, shrink*step[0]*length, shrink*step[1]*length)
		p = normalised(onPlane(p, t1, t2, shrink*step[2], shrink*step[3]))
		if size <= jointSettled {
			break
		}
		if i >= jointTrial && size > jointLost {
			return n, p, false
		}
	}
	// Near a caustic the steps end at about 1e-8; arrivalAt decides whether that is an arrival.
	return r3.Unit(q), p, true
}

// system4 holds a symmetric 4×4 matrix and, as its last column, a right side.
type system4 [4][5]float64

// jointSystem returns Newton's equations for φ at p and at q, which has the given length. The first
// two unknowns are steps along e as parts of the length. The other two are rotations of p towards
// t.
func (c *Christoffel) jointSystem(q, p r3.Vec, e, t [2]r3.Vec, length float64) system4 {
	n := r3.Scale(1/length, q)
	gamma, own := c.between(n, n), c.between(p, p)
	gammaP, ownN := gamma.mulVec(p), own.mulVec(n)
	square := r3.Dot(p, gammaP)
	var m system4
	for i := range 2 {
		ownE, gammaT := own.mulVec(e[i]), gamma.mulVec(t[i])
		mixed := c.between(p, t[i])
		mixedN := mixed.mulVec(n)
		for j := range 2 {
			m[i][j] = r3.Dot(e[j], ownE)
			m[2+i][2+j] = r3.Dot(t[j], gammaT)
			m[j][2+i] = 2 * r3.Dot(e[j], mixedN)
			m[2+i][j] = m[j][2+i]
		}
		m[2+i][2+i] -= square
		m[i][4] = -r3.Dot(e[i], ownN)
		m[2+i][4] = -r3.Dot(t[i], gammaP)
	}
	return m
}

// solve returns the solution of m by elimination with full pivoting. If the remaining pivots are 0
// to rounding, as along a ring of solutions, the remaining unknowns are 0.
func (m system4) solve() (x [4]float64) {
	order := [4]int{0, 1, 2, 3} // order[k] is the unknown of column k
	rank := 4
	var first float64
	for k := range 4 {
		row, col := k, k
		for i := k; i < 4; i++ {
			for j := k; j < 4; j++ {
				if math.Abs(m[i][j]) > math.Abs(m[row][col]) {
					row, col = i, j
				}
			}
		}
		pivot := math.Abs(m[row][col])
		if k == 0 {
			first = pivot
		}
		if !(pivot > jointFlat*first) {
			rank = k
			break
		}
		m[k], m[row] = m[row], m[k]
		for i := range 4 {
			m[i][k], m[i][col] = m[i][col], m[i][k]
		}
		order[k], order[col] = order[col], order[k]
		for i := k + 1; i < 4; i++ {
			factor := m[i][k] / m[k][k]
			for j := k; j < 5; j++ {
				m[i][j] -= factor * m[k][j]
			}
		}
	}
	for k := rank - 1; k >= 0; k-- {
		sum := m[k][4]
		for j := k + 1; j < rank; j++ {
			sum -= m[k][j] * x[order[j]]
		}
		x[order[k]] = sum / m[k][k]
	}
	return x
}
