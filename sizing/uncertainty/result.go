// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Result is a value with its expanded uncertainty. At the level of confidence the true value lies
// within Value ± Expanded.
type Result struct {
	Value    float64 `json:"value"`
	Expanded float64 `json:"expanded_uncertainty"`
	Factor   float64 `json:"coverage_factor"` // Expanded over the combined standard uncertainty
	Level    float64 `json:"level"`           // of confidence, such as 0.95
	Unit     string  `json:"unit"`
}

// Result returns the value with its expanded uncertainty for a level of confidence, above 0 and
// below 1. The coverage factor is the factor of [CoverageFactor]. For another level Factor and
// Expanded are NaN.
func (b *Budget) Result(level float64) Result {
	k := CoverageFactor(level, b.DegreesOfFreedom)
	return Result{b.Value, k * b.Uncertainty, k, level, b.Unit}
}

// CoverageFactor returns the factor k for which ±k standard uncertainties hold a value at a level
// of confidence, above 0 and below 1. It is Student's factor for the degrees of freedom, which are
// truncated to a whole number (GUM G.6.4). For 0, which stands for infinitely many, it is the
// normal factor. It is NaN for other levels and for degrees of freedom below 1.
func CoverageFactor(level, degreesOfFreedom float64) float64 {
	if !(level > 0 && level < 1) {
		return math.NaN()
	}
	p := (1 + level) / 2
	if degreesOfFreedom == 0 {
		return distuv.UnitNormal.Quantile(p)
	}
	const rounding = 1e-9 // of a whole number of degrees
	v := math.Floor(degreesOfFreedom * (1 + rounding))
	const many = 1e6 // the factor differs from the normal factor by 1e-6 there
	switch {
	case !(v >= 1):
		return math.NaN()
	case v > many:
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Sigma: 1, Nu: v}.Quantile(p)
}

// Holds reports whether a true value lies within the interval.
func (r Result) Holds(truth float64) bool { return math.Abs(r.Value-truth) <= r.Expanded }

// String returns the result in the form "5.02 ± 0.21 mm (k = 1.96, 95 %)". The expanded
// uncertainty has two significant digits, and the value ends with the same digit (GUM 7.2.6).
func (r Result) String() string {
	value, expanded := strconv.FormatFloat(r.Value, 'g', -1, 64), strconv.FormatFloat(r.Expanded, 'g', -1, 64)
	if r.Expanded > 0 && !math.IsInf(r.Expanded, 1) {
		_, exponent, _ := strings.Cut(strconv.FormatFloat(r.Expanded, 'e', 1, 64), "e") // of the rounded number
		e, _ := strconv.Atoi(exponent)
		digits := 1 - e
		value, expanded = fixed(r.Value, digits), fixed(r.Expanded, digits)
	}
	unit := r.Unit
	if unit != "" {
		unit = " " + unit
	}
	percent := strconv.FormatFloat(100*r.Level, 'g', 6, 64)
	return fmt.Sprintf("%s ± %s%s (k = %.2f, %s %%)", value, expanded, unit, r.Factor, percent)
}

// fixed returns v with a number of digits after the point. A negative number rounds digits before
// the point.
func fixed(v float64, digits int) string {
	if digits < 0 {
		scale := math.Pow(10, float64(-digits))
		v = math.Round(v/scale) * scale
	}
	return strconv.FormatFloat(v, 'f', max(digits, 0), 64)
}
