// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// symmetric3 is a symmetric 3×3 matrix in the order xx, yy, zz, yz, xz, xy.
type symmetric3 [6]float64

// mulVec returns s·v.
func (s *symmetric3) mulVec(v r3.Vec) r3.Vec {
	return r3.Vec{
		X: s[0]*v.X + s[5]*v.Y + s[4]*v.Z,
		Y: s[5]*v.X + s[1]*v.Y + s[3]*v.Z,
		Z: s[4]*v.X + s[3]*v.Y + s[2]*v.Z,
	}
}

// eigen returns the eigenvalues of s, descending, and orthonormal eigenvectors in the same order.
//
// It uses Jacobi's rotations (Golub and Van Loan, Matrix Computations, section 8.5). For a 3×3
// matrix they take a third of the time of gonum's general solver and allocate no memory, so a
// [Christoffel] needs no scratch. The tests compare the eigenvalues with mat.EigenSym, within 1e-14
// of the largest eigenvalue.
func (s symmetric3) eigen() (values [3]float64, vectors [3]r3.Vec) {
	a := [3][3]float64{{s[0], s[5], s[4]}, {s[5], s[1], s[3]}, {s[4], s[3], s[2]}}
	v := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} // its rows become the eigenvectors
	// Convergence is quadratic. Six sweeps are enough for any 3×3 matrix in float64; ten leave a
	// margin.
	for range 10 {
		off := math.Abs(a[0][1]) + math.Abs(a[0][2]) + math.Abs(a[1][2])
		if off <= 1e-18*(math.Abs(a[0][0])+math.Abs(a[1][1])+math.Abs(a[2][2])) {
			break
		}
		jacobiRotate(&a, &v, 0, 1, 2)
		jacobiRotate(&a, &v, 0, 2, 1)
		jacobiRotate(&a, &v, 1, 2, 0)
	}
	values = [3]float64{a[0][0], a[1][1], a[2][2]}
	for i := range 3 {
		vectors[i] = r3.Vec{X: v[i][0], Y: v[i][1], Z: v[i][2]}
	}
	order := func(i, j int) {
		if values[i] < values[j] {
			values[i], values[j] = values[j], values[i]
			vectors[i], vectors[j] = vectors[j], vectors[i]
		}
	}
	order(0, 1)
	order(1, 2)
	order(0, 1)
	return values, vectors
}

// jacobiRotate makes a[p][q] zero by a rotation of axes p and q; r is the third axis. It turns the
// rows of v by the same rotation.
func jacobiRotate(a, v *[3][3]float64, p, q, r int) {
	if a[p][q] == 0 {
		return
	}
	theta := (a[q][q] - a[p][p]) / (2 * a[p][q])
	t := 1 / (math.Abs(theta) + math.Sqrt(theta*theta+1))
	if theta < 0 {
		t = -t
	}
	cos := 1 / math.Sqrt(t*t+1)
	sin := t * cos
	a[p][p] -= t * a[p][q]
	a[q][q] += t * a[p][q]
	a[p][q], a[q][p] = 0, 0
	arp, arq := a[r][p], a[r][q]
	a[r][p] = cos*arp - sin*arq
	a[r][q] = sin*arp + cos*arq
	a[p][r], a[q][r] = a[r][p], a[r][q]
	for k := range 3 {
		vp, vq := v[p][k], v[q][k]
		v[p][k] = cos*vp - sin*vq
		v[q][k] = sin*vp + cos*vq
	}
}
