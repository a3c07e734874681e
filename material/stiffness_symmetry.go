// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "gonum.org/v1/gonum/spatial/r3"

// Cubic holds the three stiffnesses of a cubic crystal in Pa, on axes along the cube edges. The
// crystal is stable if C44 > 0, C11 > |C12| and C11 + 2·C12 > 0.
type Cubic struct {
	C11, C12, C44 float64
}

// Stiffness returns the matrix of s without a check; [Stiffness.Validate] and [NewChristoffel]
// check it.
func (s Cubic) Stiffness() Stiffness {
	return Orthotropic{
		C11: s.C11, C22: s.C11, C33: s.C11,
		C12: s.C12, C13: s.C12, C23: s.C12,
		C44: s.C44, C55: s.C44, C66: s.C44,
	}.Stiffness()
}

// TransverselyIsotropic holds the five stiffnesses in Pa of a solid with an axis of rotational
// symmetry. The axis is z in the numbering. Examples are a hexagonal crystal, a bundle of fibres,
// and the columnar grains of a weld. The sixth stiffness is C66 = (C11 − C12)/2. The solid is
// stable if C44 > 0, C11 > |C12| and (C11 + C12)·C33 > 2·C13².
type TransverselyIsotropic struct {
	C11, C12, C13, C33, C44 float64
}

// Stiffness returns the matrix of s with the axis along z, without a check; [Stiffness.Validate]
// and [NewChristoffel] check it.
func (s TransverselyIsotropic) Stiffness() Stiffness {
	return Orthotropic{
		C11: s.C11, C22: s.C11, C33: s.C33,
		C12: s.C12, C13: s.C13, C23: s.C13,
		C44: s.C44, C55: s.C44, C66: (s.C11 - s.C12) / 2,
	}.Stiffness()
}

// About returns the matrix of s with the axis of symmetry along the given axis. The axis may have
// any length above 0. The error names a zero axis, or an axis that is not finite.
func (s TransverselyIsotropic) About(axis r3.Vec) (Stiffness, error) {
	to, err := unitDirection("axis of symmetry", axis)
	if err != nil {
		return Stiffness{}, err
	}
	e1, e2 := planeAcross(to)
	return s.Stiffness().transform(r3.NewMat([]float64{
		e1.X, e2.X, to.X,
		e1.Y, e2.Y, to.Y,
		e1.Z, e2.Z, to.Z,
	}))
}

// Orthotropic holds the nine stiffnesses in Pa of a solid with three perpendicular mirror planes:
// an orthorhombic crystal, a rolled plate, a woven laminate. The axes are the lines in which the
// planes meet.
type Orthotropic struct {
	C11, C22, C33 float64
	C12, C13, C23 float64
	C44, C55, C66 float64
}

// Stiffness returns the matrix of s without a check; [Stiffness.Validate] and [NewChristoffel]
// check it.
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
