// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Contribution is what one input quantity adds to the uncertainty of a result.
type Contribution struct {
	Quantity
	// Sensitivity is the sensitivity coefficient: the derivative of the result with respect to the
	// quantity, finite.
	Sensitivity float64 `json:"sensitivity"`
	// Share is the share of the variance of the result, set by [Combine]. The shares of a budget
	// add up to 1. A share can be negative if quantities are correlated.
	Share float64 `json:"share"`
}

// Amount returns |Sensitivity|·Uncertainty: the standard uncertainty of the result that the
// quantity alone would cause.
func (c *Contribution) Amount() float64 { return math.Abs(c.Sensitivity) * c.Uncertainty }

// Budget is the result of a measurement with everything that makes it uncertain. [Combine],
// [Propagate] and [Inputs] make budgets.
type Budget struct {
	Name  string  `json:"name"` // of the result
	Unit  string  `json:"unit"` // of the result
	Value float64 `json:"value"`
	// Uncertainty is the combined standard uncertainty.
	Uncertainty float64 `json:"standard_uncertainty"`
	// DegreesOfFreedom are the effective degrees of freedom; 0 stands for infinitely many.
	DegreesOfFreedom float64        `json:"degrees_of_freedom"`
	Contributions    []Contribution `json:"contributions"`
	Correlations     []Correlation  `json:"correlations,omitempty"`
}

// Combine returns the budget of a result from the contributions of its input quantities, at least
// one, with different names. It copies them and sets their shares. The value is finite. The
// combined standard uncertainty u is (GUM 5.1.2 and 5.2.2)
//
//	u² = Σᵢ Σⱼ cᵢ·cⱼ·uᵢ·uⱼ·rᵢⱼ
//
//	c   sensitivity coefficients
//	u   standard uncertainties of the quantities
//	r   correlation coefficients: 1 for i = j, 0 for quantities that no Correlation names
//
// The effective degrees of freedom ν follow from the formula of Welch and Satterthwaite (GUM
// G.4.1),
//
//	u⁴/ν = Σ u_g⁴/ν_g
//
// over groups g. A group is one quantity, or all quantities that are connected by correlations,
// with the fewest degrees of freedom of its quantities. The formula in the GUM holds for
// quantities without correlation. The rule of the groups is an addition of this package: for the
// means of n readings that were taken together it gives ν = n - 1.
func Combine(name, unit string, value float64, contributions []Contribution, correlations []Correlation) (*Budget, error) {
	if !number.Finite(value) {
		return nil, fmt.Errorf("uncertainty: value of %s %v: want a finite value", name, value)
	}
	b := &Budget{
		Name: name, Unit: unit, Value: value,
		Contributions: append([]Contribution(nil), contributions...),
		Correlations:  append([]Correlation(nil), correlations...),
	}
	quantities := make([]Quantity, len(contributions))
	for i, c := range contributions {
		quantities[i] = c.Quantity
		if !number.Finite(c.Sensitivity) {
			return nil, fmt.Errorf("uncertainty: sensitivity of %s to %s %v: want a finite value", name, c.Name, c.Sensitivity)
		}
	}
	j, err := newJoint(quantities, correlations)
	if err != nil {
		return nil, err
	}
	variance := 0.0
	groups := make([]float64, len(contributions)) // variance of each group
	for i := range b.Contributions {
		ci := &b.Contributions[i]
		ci.Share = 0
		for k := range b.Contributions {
			ck := &b.Contributions[k]
			ci.Share += ci.Sensitivity * ci.Uncertainty * ck.Sensitivity * ck.Uncertainty * j.r.At(i, k)
		}
		variance += ci.Share
		groups[j.group[i]] += ci.Share
	}
	b.Uncertainty = sqrt0(variance)
	if !number.Finite(b.Uncertainty) {
		return nil, fmt.Errorf("uncertainty: combined uncertainty of %s %v: want finite contributions", name, b.Uncertainty)
	}
	if !(variance > 0) {
		for i := range b.Contributions {
			b.Contributions[i].Share = 0
		}
		return b, nil
	}
	for i := range b.Contributions {
		b.Contributions[i].Share /= variance
	}
	freedom, inverse := j.freedom(), 0.0
	for g, v := range groups {
		if freedom[g] != 0 {
			inverse += v / variance * v / variance / freedom[g]
		}
	}
	if inverse > 0 {
		b.DegreesOfFreedom = 1 / inverse
	}
	return b, nil
}

// In returns the budget in another unit, of which there are factor in a unit of b: In(1e3, "mm")
// for a budget in metres. The units of the input quantities stay.
func (b *Budget) In(factor float64, unit string) *Budget {
	c := *b
	c.Unit = unit
	c.Value *= factor
	c.Uncertainty *= math.Abs(factor)
	c.Contributions = append([]Contribution(nil), b.Contributions...)
	for i := range c.Contributions {
		c.Contributions[i].Sensitivity *= factor
	}
	return &c
}

// sqrt0 returns the root of v, and 0 for the negative values that rounding leaves of a 0.
func sqrt0(v float64) float64 {
	if v < 0 {
		return 0
	}
	return math.Sqrt(v)
}
