// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"fmt"

	"gonum.org/v1/gonum/mat"
)

// joint holds quantities with their correlations.
type joint struct {
	quantities []Quantity
	// r is the correlation matrix.
	r *mat.SymDense
	// group numbers the quantities that correlations connect, directly or through others: the
	// group of a quantity is the lowest index in it.
	group []int
}

// newJoint checks quantities and correlations.
func newJoint(quantities []Quantity, correlations []Correlation) (*joint, error) {
	n := len(quantities)
	if n == 0 {
		return nil, fmt.Errorf("uncertainty: no quantities: want at least one")
	}
	j := &joint{quantities, mat.NewSymDense(n, nil), make([]int, n)}
	index := make(map[string]int, n)
	for i := range quantities {
		q := &quantities[i]
		if err := q.check(); err != nil {
			return nil, err
		}
		if _, found := index[q.Name]; found {
			return nil, fmt.Errorf("uncertainty: two quantities with the name %s: want different names", q.Name)
		}
		index[q.Name] = i
		j.group[i] = i
		j.r.SetSym(i, i, 1)
	}
	for _, c := range correlations {
		a, foundA := index[c.A]
		b, foundB := index[c.B]
		switch {
		case !foundA || !foundB:
			return nil, fmt.Errorf("uncertainty: correlation of %s and %s: want names of quantities", c.A, c.B)
		case a == b || j.r.At(a, b) != 0:
			return nil, fmt.Errorf("uncertainty: correlation of %s and %s: want two quantities, each pair once", c.A, c.B)
		case !(c.R >= -1 && c.R <= 1):
			return nil, fmt.Errorf("uncertainty: correlation coefficient of %s and %s %v: want -1 to 1", c.A, c.B, c.R)
		}
		j.r.SetSym(a, b, c.R)
		j.join(j.group[a], j.group[b])
	}
	if len(correlations) > 0 {
		if _, err := j.root(); err != nil {
			return nil, err
		}
	}
	return j, nil
}

// join makes one group of two.
func (j *joint) join(a, b int) {
	for i, g := range j.group {
		if g == a || g == b {
			j.group[i] = min(a, b)
		}
	}
}

// root returns a matrix whose product with its transpose is the correlation matrix. Only a matrix
// without negative eigenvalues has one.
func (j *joint) root() (*mat.Dense, error) {
	var eigen mat.EigenSym
	if !eigen.Factorize(j.r, true) {
		return nil, fmt.Errorf("uncertainty: the eigenvalues of the correlations do not converge")
	}
	values := eigen.Values(nil)
	const rounding = 1e-9 // of the coefficients: linear dependence gives eigenvalues of 0
	if values[0] < -rounding {
		return nil, fmt.Errorf("uncertainty: the correlations contradict each other: no quantities have all of them at once")
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	n := len(values)
	root := mat.NewDense(n, n, nil)
	for i := range n {
		for k := range n {
			root.Set(i, k, vectors.At(i, k)*sqrt0(values[k]))
		}
	}
	return root, nil
}

// freedom returns the degrees of freedom of each group: the fewest of its quantities, 0 for
// infinitely many.
func (j *joint) freedom() map[int]float64 {
	fewest := make(map[int]float64)
	for i, q := range j.quantities {
		g := j.group[i]
		if v := q.DegreesOfFreedom; v != 0 && (fewest[g] == 0 || v < fewest[g]) {
			fewest[g] = v
		}
	}
	return fewest
}
