// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Stiffness is the elastic stiffness of a solid in Voigt form, in Pa: the
// matrix C of stress = C·strain in which rows and columns stand for the
// components, in this order,
//
//	index   0   1   2   3   4   5
//	pair    xx  yy  zz  yz  xz  xy
//
// and the last three strains are the engineering shear strains (twice the
// tensor's). Element C34 of the literature is c[2][3] here.
//
// [Cubic], [TransverselyIsotropic], [Orthotropic] and [Isotropic] make a
// Stiffness from the constants that are independent under their symmetry; the
// full matrix of a triclinic solid is written out by the caller.
type Stiffness [6][6]float64

// voigtPair[a] is the pair of axes that Voigt index a stands for, and
// voigtIndex[i][j] the Voigt index of the pair i, j.
var (
	voigtPair  = [6][2]int{{0, 0}, {1, 1}, {2, 2}, {1, 2}, {0, 2}, {0, 1}}
	voigtIndex = [3][3]int{{0, 5, 4}, {5, 1, 3}, {4, 3, 2}}
)

// The bounds of [Stiffness.Validate].
const (
	// stiffnessAsymmetry is the largest difference of two elements that
	// should be equal, as a fraction of the largest element: generous to
	// constants that were rotated or inverted elsewhere in float64, closed to
	// a slip of the pen.
	stiffnessAsymmetry = 1e-9

	// stiffnessDefinite is the least ratio of the smallest to the largest
	// eigenvalue. It keeps the square of the slowest wave speed well above
	// the rounding of the fastest.
	stiffnessDefinite = 1e-12
)

// Validate reports what keeps c from being the stiffness of a stable solid:
//
//   - an element that is not finite;
//   - c[i][j] and c[j][i] further apart than 1e-9 of the largest element;
//   - an eigenvalue that is not above 1e-12 of the largest one: then a strain
//     exists that costs no energy.
//
// The eigenvalues are those of the elasticity tensor (the matrix with √2 on its
// mixed blocks, so that they do not depend on the axes), found by
// [mat.EigenSym]. A fluid fails the last test, as it should.
func (c Stiffness) Validate() error {
	var largest float64
	for i, row := range c {
		for j, v := range row {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("material: stiffness C%d%d %v Pa: want a finite value", i+1, j+1, v)
			}
			largest = max(largest, math.Abs(v))
		}
	}
	for i := range c {
		for j := range i {
			if math.Abs(c[i][j]-c[j][i]) > stiffnessAsymmetry*largest {
				return fmt.Errorf("material: stiffness C%d%d %v Pa and C%d%d %v Pa: want a symmetric matrix", j+1, i+1, c[j][i], i+1, j+1, c[i][j])
			}
		}
	}
	e, err := c.eigenvalues(largest)
	if err != nil {
		return err
	}
	if !(e[0] > stiffnessDefinite*e[5]) {
		return fmt.Errorf("material: stiffness with eigenvalues from %.6g to %.6g Pa: want all six above 0 (a stable solid), the smallest above %g of the largest", e[0], e[5], stiffnessDefinite)
	}
	return nil
}

// eigenvalues returns the six eigenvalues of the tensor in Pa, ascending.
// Working in units of the largest element keeps the squares inside from
// overflowing.
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

// kelvinFactor returns the weight of Voigt index a for which the matrix acts
// on strains as the tensor does, with the same eigenvalues.
func kelvinFactor(a int) float64 {
	if a < 3 {
		return 1
	}
	return math.Sqrt2
}
