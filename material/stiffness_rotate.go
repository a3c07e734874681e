// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// orthogonality is the largest departure of a rotation matrix from orthogonality that counts as
// rounding.
const orthogonality = 1e-9

// Rotate returns the stiffness, on the same axes, of the solid turned by r. The error reports a
// zero quaternion, and an r that [r3.NewRotation] did not make about an axis with a length above 0.
func (c Stiffness) Rotate(r r3.Rotation) (Stiffness, error) {
	x := r.Rotate(r3.Vec{X: 1})
	y := r.Rotate(r3.Vec{Y: 1})
	z := r.Rotate(r3.Vec{Z: 1})
	return c.transform(r3.NewMat([]float64{
		x.X, y.X, z.X,
		x.Y, y.Y, z.Y,
		x.Z, y.Z, z.Z,
	}))
}

// transform returns the stiffness, on the same axes, of the solid turned by m. The matrix m is a
// rotation (or reflection) whose columns are the images of x, y and z:
//
//	c'_ijkl = m_ip m_jq m_kr m_ls c_pqrs
//
// The code evaluates it as c' = M·c·Mᵀ with Bond's 6×6 matrix M (Auld, Acoustic Fields and Waves in
// Solids, vol. 1, 1973, section 3.D). The result is symmetric to the last bit. The error reports a
// matrix that departs from orthogonality by more than 1e-9.
func (c Stiffness) transform(m *r3.Mat) (Stiffness, error) {
	for i := range 3 {
		for j := range 3 {
			var want float64
			if i == j {
				want = 1
			}
			if got := r3.Dot(m.VecCol(i), m.VecCol(j)); !(math.Abs(got-want) <= orthogonality) {
				return Stiffness{}, fmt.Errorf("material: rotation matrix whose columns %d and %d "+
					"have the scalar product %v: want %v within %v", i, j, got, want, orthogonality)
			}
		}
	}
	bond := bondMatrix(m)
	var mc, out Stiffness // mc = M·c
	for i := range 6 {
		for j := range 6 {
			for k := range 6 {
				mc[i][j] += bond[i][k] * c.at(k, j)
			}
		}
	}
	for i := range 6 {
		for j := range i + 1 {
			for k := range 6 {
				out[i][j] += mc[i][k] * bond[j][k]
			}
			out[j][i] = out[i][j]
		}
	}
	return out, nil
}

// bondMatrix returns the matrix that turns stresses in Voigt form as m turns the axes. Element
// (ij),(pq) is m_ip m_jq, plus m_iq m_jp where p and q differ.
func bondMatrix(m *r3.Mat) [6][6]float64 {
	var out [6][6]float64
	for a, ij := range voigtPair {
		for b, pq := range voigtPair {
			i, j, p, q := ij[0], ij[1], pq[0], pq[1]
			out[a][b] = m.At(i, p) * m.At(j, q)
			if p != q {
				out[a][b] += m.At(i, q) * m.At(j, p)
			}
		}
	}
	return out
}
