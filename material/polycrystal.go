// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"

	"gonum.org/v1/gonum/mat"
)

// Hill returns the isotropic medium of a polycrystal of m without texture. Its bulk modulus K and
// shear modulus G are the means of the bounds of Voigt and Reuss (Hill, Proc. Phys. Soc. A 65,
// 1952, 349). For common metals the speeds are within 3 % of speeds measured on polycrystals. Grain
// shape and texture are not included. The error is the error of [Anisotropic.Validate].
//
// The upper bound assumes equal strain in all grains (Voigt, Lehrbuch der Kristallphysik, 1928).
// With the stiffnesses C in Voigt form,
//
//	9·K  = (C11 + C22 + C33) + 2·(C12 + C13 + C23)
//	15·G = (C11 + C22 + C33) − (C12 + C13 + C23) + 3·(C44 + C55 + C66)
//
// The lower bound assumes equal stress in all grains (Reuss, Z. angew. Math. Mech. 9, 1929, 49).
// With the compliances S, the inverse of the stiffness matrix,
//
//	1/K  = (S11 + S22 + S33) + 2·(S12 + S13 + S23)
//	15/G = 4·(S11 + S22 + S33) − 4·(S12 + S13 + S23) + 3·(S44 + S55 + S66)
func (m Anisotropic) Hill() (Isotropic, error) {
	if err := m.Validate(); err != nil {
		return Isotropic{}, err
	}
	bulkV, shearV := m.Stiffness.voigtModuli()
	bulkR, shearR, err := m.Stiffness.reussModuli()
	if err != nil {
		return Isotropic{}, err
	}
	bulk, shear := (bulkV+bulkR)/2, (shearV+shearR)/2
	return fromModuli(m.Density, bulk+4*shear/3, shear)
}

// voigtModuli returns the bulk and the shear modulus for equal strain in all grains, in Pa.
func (c *Stiffness) voigtModuli() (bulk, shear float64) {
	axial, mixed, shears := c.averageSums()
	return (axial + 2*mixed) / 9, (axial - mixed + 3*shears) / 15
}

// reussModuli returns the bulk and the shear modulus for equal stress in all grains, in Pa.
func (c *Stiffness) reussModuli() (bulk, shear float64, err error) {
	m := mat.NewSymDense(6, nil)
	for i := range 6 {
		for j := i; j < 6; j++ {
			m.SetSym(i, j, c.at(i, j))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(m) {
		return 0, 0, errors.New("material: stiffness: not positive definite")
	}
	// The error mat.Condition reports an ill-conditioned stiffness. The inverse is then as accurate
	// as float64 allows.
	var inverse mat.SymDense
	if err := chol.InverseTo(&inverse); err != nil && !errors.As(err, new(mat.Condition)) {
		return 0, 0, err
	}
	var s Stiffness
	for i := range 6 {
		for j := range 6 {
			s[i][j] = inverse.At(i, j)
		}
	}
	axial, mixed, shears := s.averageSums()
	return 1 / (axial + 2*mixed), 15 / (4*axial - 4*mixed + 3*shears), nil
}

// averageSums returns the three sums of elements in the formulas of the averages.
func (c *Stiffness) averageSums() (axial, mixed, shears float64) {
	return c[0][0] + c[1][1] + c[2][2],
		c.at(0, 1) + c.at(0, 2) + c.at(1, 2),
		c[3][3] + c[4][4] + c[5][5]
}
