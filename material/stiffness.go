// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Stiffness is the elastic stiffness of a solid in Voigt form, in Pa: the matrix C of stress =
// C·strain. Rows and columns stand for the components in this order:
//
//	index   0   1   2   3   4   5
//	pair    xx  yy  zz  yz  xz  xy
//
// The last three strains are the engineering shear strains, twice the strains of the tensor. The
// element C34 of the literature is c[2][3].
//
// [Cubic], [TransverselyIsotropic], [Orthotropic] and [Isotropic] make a Stiffness from the
// independent constants of their symmetry. Write out the full matrix for a solid of lower symmetry.
type Stiffness [6][6]float64

// voigtPair[a] is the pair of axes of Voigt index a. voigtIndex[i][j] is the Voigt index of the
// pair i, j.
var (
	voigtPair  = [6][2]int{{0, 0}, {1, 1}, {2, 2}, {1, 2}, {0, 2}, {0, 1}}
	voigtIndex = [3][3]int{{0, 5, 4}, {5, 1, 3}, {4, 3, 2}}
)

// The bounds of [Stiffness.Validate].
const (
	// stiffnessAsymmetry is the largest allowed difference of two elements that should be equal, as
	// a fraction of the largest element. Constants that were rotated or inverted elsewhere in
	// float64 pass; a typing error does not.
	stiffnessAsymmetry = 1e-9

	// stiffnessDefinite is the smallest allowed ratio of the smallest to the largest eigenvalue. It
	// keeps the square of the slowest wave speed well above the rounding of the fastest.
	stiffnessDefinite = 1e-12
)

// Validate returns an error if c is not the stiffness of a stable solid:
//
//   - an element is not finite;
//   - c[i][j] and c[j][i] differ by more than 1e-9 of the largest element;
//   - an eigenvalue is not above 1e-12 of the largest eigenvalue, so that a strain without energy
//     exists.
//
// The eigenvalues are the eigenvalues of the elasticity tensor, found by [mat.EigenSym]. They do
// not depend on the axes. A fluid has eigenvalues 0, which Validate refuses.
func (c Stiffness) Validate() error {
	var largest float64
	for i, row := range c {
		for j, v := range row {
			if !number.Finite(v) {
				return fmt.Errorf("material: stiffness C%d%d %v Pa: want a finite value",
					i+1, j+1, v)
			}
			largest = max(largest, math.Abs(v))
		}
	}
	for i := range c {
		for j := range i {
			if math.Abs(c[i][j]-c[j][i]) > stiffnessAsymmetry*largest {
				return fmt.Errorf(
					"material: stiffness C%d%d %v Pa and C%d%d %v Pa: want a symmetric matrix",
					j+1, i+1, c[j][i], i+1, j+1, c[i][j])
			}
		}
	}
	e, err := c.eigenvalues(largest)
	if err != nil {
		return err
	}
	if !(e[0] > stiffnessDefinite*e[5]) {
		return fmt.Errorf("material: stiffness with eigenvalues from %.6g to %.6g Pa: "+
			"want all six above 0 (a stable solid), the smallest above %g of the largest",
			e[0], e[5], stiffnessDefinite)
	}
	return nil
}

// eigenvalues returns the six eigenvalues of the tensor in Pa, ascending. The calculation divides
// by the largest element, because the squares could overflow otherwise.
func (c Stiffness) eigenvalues(largest float64) ([]float64, error) {
	if largest == 0 {
		return make([]float64, 6), nil
	}
	s := mat.NewSymDense(6, nil)
	for i := range 6 {
		for j := i; j < 6; j++ {
			s.SetSym(i, j, kelvinFactor(i)*kelvinFactor(j)*(c.at(i, j)/largest))
		}
	}
	var e mat.EigenSym
	if !e.Factorize(s, false) {
		return nil, errors.New("material: stiffness: the eigenvalues were not found")
	}
	values := e.Values(nil)
	for i := range values {
		values[i] *= largest
	}
	return values, nil
}

// at returns element i, j of the symmetric part of c.
func (c *Stiffness) at(i, j int) float64 { return c[i][j]/2 + c[j][i]/2 }

// kelvinFactor returns the weight of Voigt index a. With these weights the matrix has the
// eigenvalues of the tensor.
func kelvinFactor(a int) float64 {
	if a < 3 {
		return 1
	}
	return math.Sqrt2
}
