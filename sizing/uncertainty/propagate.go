// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Propagate returns the budget of the result f of input quantities. The argument of f holds the
// quantities in their order. The sensitivity coefficients are central differences of f over a
// hundredth of the standard uncertainty. See [Combine] for the rest.
//
// This holds if f is nearly linear over the uncertainties. [MonteCarlo] needs no such assumption.
func Propagate(name, unit string, f func([]float64) float64, quantities []Quantity, correlations []Correlation) (*Budget, error) {
	if f == nil {
		return nil, fmt.Errorf("uncertainty: function of %s, nil: want one", name)
	}
	x := make([]float64, len(quantities))
	for i, q := range quantities {
		x[i] = q.Value
	}
	contributions := make([]Contribution, len(quantities))
	for i, q := range quantities {
		step := q.Uncertainty / 100
		if step == 0 {
			step = max(math.Abs(q.Value), 1) * 1e-6
		}
		contributions[i] = Contribution{Quantity: q, Sensitivity: slope(f, x, i, step)}
	}
	value := f(x)
	if !number.Finite(value) {
		return nil, fmt.Errorf("uncertainty: %s is %v at the values of the quantities: want a finite result", name, value)
	}
	return Combine(name, unit, value, contributions, correlations)
}

// slope returns the central difference of f over x[i]. It leaves x as it was.
func slope(f func([]float64) float64, x []float64, i int, step float64) float64 {
	at := x[i]
	above, below := at+step, at-step
	x[i] = above
	high := f(x)
	x[i] = below
	low := f(x)
	x[i] = at
	return (high - low) / (above - below)
}
