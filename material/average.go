// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Voigt returns the isotropic medium that a polycrystal of m without texture
// would be if all grains were strained alike: the upper bound of the stiffness
// (Voigt, Lehrbuch der Kristallphysik, 1928). With the Voigt-form stiffnesses,
//
//	9·K  = (C11 + C22 + C33) + 2·(C12 + C13 + C23)
//	15·G = (C11 + C22 + C33) − (C12 + C13 + C23) + 3·(C44 + C55 + C66)
//
// The error is that of an invalid m.
func (m Anisotropic) Voigt() (Isotropic, error) {
	if err := m.Validate(); err != nil {
		return Isotropic{}, err
	}
	return m.average(m.Stiffness.voigtModuli())
}

// Reuss returns the isotropic medium that a polycrystal of m without texture
// would be if all grains were stressed alike: the lower bound of the stiffness
// (Reuss, Z. angew. Math. Mech. 9, 1929, 49). With the compliances S, the
// inverse of the stiffness matrix,
//
//	1/K  = (S11 + S22 + S33) + 2·(S12 + S13 + S23)
//	15/G = 4·(S11 + S22 + S33) − 4·(S12 + S13 + S23) + 3·(S44 + S55 + S66)
//
// The error is that of an invalid m.
func (m Anisotropic) Reuss() (Isotropic, error) {
	if err := m.Validate(); err != nil {
		return Isotropic{}, err
	}
	bulk, shear, err := m.Stiffness.reussModuli()
	if err != nil {
		return Isotropic{}, err
	}
	return m.average(bulk, shear)
}

// Hill returns the isotropic medium whose bulk and shear moduli lie half-way
// between those of [Anisotropic.Voigt] and [Anisotropic.Reuss] (Hill, Proc.
// Phys. Soc. A 65, 1952, 349). For common metals its speeds come within a few
// per cent of those measured on polycrystals; neither grain shape nor texture
// enters. The error is that of an invalid m.
func (m Anisotropic) Hill() (Isotropic, error) {
	if err := m.Validate(); err != nil {
		return Isotropic{}, err
	}
	bulkV, shearV := m.Stiffness.voigtModuli()
	bulkR, shearR, err := m.Stiffness.reussModuli()
	if err != nil {
		return Isotropic{}, err
	}
	return m.average((bulkV+bulkR)/2, (shearV+shearR)/2)
}

// average returns the isotropic medium of the given moduli in Pa.
func (m Anisotropic) average(bulk, shear float64) (Isotropic, error) {
	out := Isotropic{
		Density:      m.Density,
		Longitudinal: math.Sqrt((bulk + 4*shear/3) / m.Density),
		Transverse:   math.Sqrt(shear / m.Density),
	}
	return out, out.Validate()
}

// voigtModuli returns the bulk and the shear modulus for equal strains, in Pa.
func (c *Stiffness) voigtModuli() (bulk, shear float64) {
	axial, mixed, shears := c.averageSums()
	return (axial + 2*mixed) / 9, (axial - mixed + 3*shears) / 15
}

// reussModuli returns the bulk and the shear modulus for equal stresses, in Pa.
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
	// An ill-conditioned stiffness is inverted as well as float64 allows;
	// mat.Condition only says so.
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

// averageSums returns the three sums of elements that the averages are made of.
func (c *Stiffness) averageSums() (axial, mixed, shears float64) {
	return c[0][0] + c[1][1] + c[2][2],
		c.at(0, 1) + c.at(0, 2) + c.at(1, 2),
		c[3][3] + c[4][4] + c[5][5]
}
