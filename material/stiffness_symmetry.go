// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "gonum.org/v1/gonum/spatial/r3"

// Cubic holds the three stiffnesses of a cubic crystal in Pa, on axes along
// its cube edges. It is stable when C44 > 0, C11 > |C12| and C11 + 2·C12 > 0.
type Cubic struct {
	C11, C12, C44 float64
}

// Stiffness returns the matrix of s. It computes only; [Stiffness.Validate]
// and [NewChristoffel] check.
func (s Cubic) Stiffness() Stiffness {
	return Orthotropic{
		C11: s.C11, C22: s.C11, C33: s.C11,
		C12: s.C12, C13: s.C12, C23: s.C12,
		C44: s.C44, C55: s.C44, C66: s.C44,
	}.Stiffness()
}

// TransverselyIsotropic holds the five stiffnesses in Pa of a solid that is the
// same all round an axis: a hexagonal crystal, a bundle of fibres, the columnar
// grains of a weld. The numbering takes the axis as z. The sixth stiffness is
// not free: C66 = (C11 − C12)/2. It is stable when C44 > 0, C11 > |C12| and
// (C11 + C12)·C33 > 2·C13².
type TransverselyIsotropic struct {
	C11, C12, C13, C33, C44 float64
}

// Stiffness returns the matrix of s with its axis along z. It computes only;
// [Stiffness.Validate] and [NewChristoffel] check.
func (s TransverselyIsotropic) Stiffness() Stiffness {
	return Orthotropic{
		C11: s.C11, C22: s.C11, C33: s.C33,
		C12: s.C12, C13: s.C13, C23: s.C13,
		C44: s.C44, C55: s.C44, C66: (s.C11 - s.C12) / 2,
	}.Stiffness()
}

// About returns the matrix of s with its axis along the given one, which may
// have any length above 0.
func (s TransverselyIsotropic) About(axis r3.Vec) (Stiffness, error) {
	to, err := unitDirection("axis of symmetry", axis)
	if err != nil {
		return Stiffness{}, err
	}
	e1, e2 := planeAcross(to)
	return s.Stiffness().Transform(r3.NewMat([]float64{
		e1.X, e2.X, to.X,
		e1.Y, e2.Y, to.Y,
		e1.Z, e2.Z, to.Z,
	}))
}

// Orthotropic holds the nine stiffnesses in Pa of a solid with three mirror
// planes at right angles (an orthorhombic crystal, a rolled plate, a woven
// laminate), on axes along the three lines in which the planes meet.
type Orthotropic struct {
	C11, C22, C33 float64
	C12, C13, C23 float64
	C44, C55, C66 float64
}

// Stiffness returns the matrix of s. It computes only; [Stiffness.Validate]
// and [NewChristoffel] check.
func (s Orthotropic) Stiffness() Stiffness {
	return Stiffness{
		{s.C11, s.C12, s.C13, 0, 0, 0},
		{s.C12, s.C22, s.C23, 0, 0, 0},
		{s.C13, s.C23, s.C33, 0, 0, 0},
		{0, 0, 0, s.C44, 0, 0},
		{0, 0, 0, 0, s.C55, 0},
		{0, 0, 0, 0, 0, s.C66},
	}
}
