// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Quantity is an input quantity of a measurement: an estimate with its standard uncertainty.
type Quantity struct {
	Name string `json:"name"`
	// Value is the estimate, finite.
	Value float64 `json:"value"`
	// Uncertainty is the standard uncertainty, the standard deviation of what the value may be:
	// finite, at least 0, in the unit of the value.
	Uncertainty float64 `json:"standard_uncertainty"`
	// DegreesOfFreedom says how well the uncertainty is known. It is at least 1, such as n - 1 for
	// the mean of n readings. The value 0 stands for infinitely many: the uncertainty is known
	// exactly.
	DegreesOfFreedom float64 `json:"degrees_of_freedom"`
	// Shape is the distribution of what the value may be. The zero value is [Normal].
	Shape Shape `json:"shape"`
}

// Shape is a distribution of what a value may be. Only [MonteCarlo] uses it.
type Shape uint8

// The distributions.
const (
	// Normal is the normal distribution. With finite degrees of freedom it is Student's
	// distribution (GUM Supplement 1, 6.4.9).
	Normal      Shape = iota
	Rectangular       // all values between two limits are equally probable
	Triangular        // values near the middle of two limits are more probable
	Arcsine           // a sine between two limits, such as a cyclic temperature; U-shaped
)

var shapes = [...]string{"normal", "rectangular", "triangular", "arcsine"}

// String returns the name of the distribution.
func (s Shape) String() string {
	if int(s) >= len(shapes) {
		return fmt.Sprintf("Shape(%d)", uint8(s))
	}
	return shapes[s]
}

// MarshalText returns the name of the distribution.
func (s Shape) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText sets the distribution to the one with a name.
func (s *Shape) UnmarshalText(text []byte) error {
	for i, name := range shapes {
		if name == string(text) {
			*s = Shape(i)
			return nil
		}
	}
	return fmt.Errorf("uncertainty: shape %q: want one of %q", text, shapes)
}

// divisor is the half-width of the limits over the standard deviation. For a normal distribution
// the limits hold 99.73 %: three standard deviations (GUM 4.3.5, 4.3.6).
func (s Shape) divisor() float64 {
	return [...]float64{3, math.Sqrt(3), math.Sqrt(6), math.Sqrt2}[s]
}

// Limits returns a quantity that lies between value - half and value + half. This is an evaluation
// of type B: the limits come from a data sheet, a tolerance, or judgement (GUM 4.3). The standard
// uncertainty is half/√3 for [Rectangular], half/√6 for [Triangular], half/√2 for [Arcsine]. For
// [Normal] limits of practically all values it is half/3. If nothing but the limits is known, take
// Rectangular.
func Limits(name string, value, half float64, shape Shape) Quantity {
	u := math.NaN()
	if int(shape) < len(shapes) {
		u = half / shape.divisor()
	}
	return Quantity{Name: name, Value: value, Uncertainty: u, Shape: shape}
}

// Readings returns the mean of repeated independent readings, at least 2. This is an evaluation of
// type A (GUM 4.2). For n readings with the standard deviation s, the standard uncertainty of the
// mean is s/√n, with n - 1 degrees of freedom. It is NaN for fewer readings.
func Readings(name string, readings ...float64) Quantity {
	mean, s := stat.MeanStdDev(readings, nil)
	n := float64(len(readings))
	return Quantity{Name: name, Value: mean, Uncertainty: s / math.Sqrt(n), DegreesOfFreedom: n - 1}
}

// check reports the first field that is out of range.
func (q *Quantity) check() error {
	switch {
	case q.Name == "":
		return fmt.Errorf("uncertainty: quantity of value %v without a name: want a name", q.Value)
	case !number.Finite(q.Value):
		return fmt.Errorf("uncertainty: value of %s %v: want a finite value", q.Name, q.Value)
	case !(q.Uncertainty >= 0) || math.IsInf(q.Uncertainty, 1):
		return fmt.Errorf("uncertainty: standard uncertainty of %s %v: want a finite value, at least 0", q.Name, q.Uncertainty)
	case q.DegreesOfFreedom != 0 && !(q.DegreesOfFreedom >= 1 && q.DegreesOfFreedom <= math.MaxFloat64):
		return fmt.Errorf("uncertainty: degrees of freedom of %s %v: want at least 1, or 0 for infinitely many", q.Name, q.DegreesOfFreedom)
	case int(q.Shape) >= len(shapes):
		return fmt.Errorf("uncertainty: shape of %s %d: want %v to %v", q.Name, q.Shape, Normal, Arcsine)
	}
	return nil
}

// Correlation says that the estimates of two quantities, given by their names, are correlated.
type Correlation struct {
	A string `json:"a"`
	B string `json:"b"`
	// R is the correlation coefficient, -1 to 1. Of the means of n pairs of readings that were
	// taken together, it is the correlation coefficient of the readings (GUM 5.2.3).
	R float64 `json:"r"`
}
