// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Method is a method for the confidence bound of a size. There is no default: the bounds differ, so
// a report names the method.
type Method int

const (
	// LikelihoodRatio is the largest size at which the data do not reject the probability.
	LikelihoodRatio Method = iota + 1
	// Delta takes the size on the axis of the curve as normally distributed. It is too small for
	// few flaws.
	Delta
	// PointwiseWald is the size at which the lower confidence band of the curve has the
	// probability. The band takes the predictor as normally distributed at each size.
	PointwiseWald
)

// Curve is the probability of detection over the size of a flaw:
//
//	POD(size) = F(Intercept + Slope·x),   x = ln size, or size if Linear
//
// with the function F of the link. [FitHitMiss] and [Response.Curve] make it. It is immutable and
// safe for concurrent use.
type Curve struct {
	Link             Link
	Linear           bool
	Intercept, Slope float64
	Covariance       [2][2]float64 // of Intercept and Slope; the standard errors are the roots of the diagonal
	Deviance         float64       // of the groups of a trial; NaN for a curve from signals

	fitted *fitted   // nil without data
	others []float64 // parts of the other parameters in the predictor
}

// At returns the probability of detection of a flaw, from 0 to 1. It is NaN for a size that is not
// above 0, unless the curve is linear.
func (c *Curve) At(size float64) float64 {
	e := c.Intercept + c.Slope*scaled(size, c.Linear)
	if math.IsNaN(e) {
		return e
	}
	f, _, _ := c.Link.mean(e)
	return f
}

// Size returns the size at which the curve has a probability, in the unit of the data: a50 for 0.5,
// a90 for 0.9. The probability is above 0 and below 1, or the result is NaN.
func (c *Curve) Size(pod float64) float64 {
	if !(pod > 0 && pod < 1) {
		return math.NaN()
	}
	return c.size((c.Link.predictor(pod) - c.Intercept) / c.Slope)
}

// size returns the size at a place on the axis.
func (c *Curve) size(x float64) float64 {
	if c.Linear {
		return x
	}
	return math.Exp(x)
}

// Bound returns the upper confidence bound of the size that has a probability of detection: a90/95
// for 0.9 and 0.95. The bound is one-sided. The probability is above 0 and below 1, the confidence
// above 0.5 and below 1.
//
// An error says if there is no finite bound: the data do not exclude, with the confidence, that the
// probability does not rise with the size. A curve without data has no bound.
func (c *Curve) Bound(pod, confidence float64, method Method) (float64, error) {
	if err := share("probability of detection", pod); err != nil {
		return 0, err
	}
	if !(confidence > 0.5 && confidence < 1) {
		return 0, fmt.Errorf("detection: confidence %v: want a number above 0.5 and below 1", confidence)
	}
	if c.fitted == nil {
		return 0, errors.New("detection: a curve without data has no confidence bound: want a curve from FitHitMiss or FitSignals")
	}
	level, z := c.Link.predictor(pod), distuv.UnitNormal.Quantile(confidence)
	if !(c.Slope > z*math.Sqrt(c.Covariance[1][1])) {
		return 0, errUnbounded
	}
	switch method {
	case LikelihoodRatio:
		x, err := c.ratio(level, z)
		return c.size(x), err
	case Delta:
		x := (level - c.Intercept) / c.Slope
		return c.size(x + z*c.deviation(x)/c.Slope), nil
	case PointwiseWald:
		return c.size(c.band(level, z)), nil
	}
	return 0, fmt.Errorf("detection: method %d: want LikelihoodRatio, Delta or PointwiseWald", method)
}

var errUnbounded = errors.New("detection: no finite bound: the data do not show, with this confidence, that the probability rises with the size: want more flaws")

// deviation returns the standard deviation of the predictor at a place on the axis.
func (c *Curve) deviation(x float64) float64 {
	v := &c.Covariance
	return math.Sqrt(v[0][0] + 2*x*v[0][1] + x*x*v[1][1])
}

// band returns the place where the predictor minus z standard deviations is the level: the larger
// root of a quadratic equation.
func (c *Curve) band(level, z float64) float64 {
	v, gap := &c.Covariance, level-c.Intercept
	a := c.Slope*c.Slope - z*z*v[1][1]
	b := gap*c.Slope + z*z*v[0][1]
	return (b + math.Sqrt(b*b-a*(gap*gap-z*z*v[0][0]))) / a
}

// ratio returns the place where the deviance of the best curve through the level exceeds the
// deviance of the curve by z².
func (c *Curve) ratio(level, z float64) (float64, error) {
	best := (level - c.Intercept) / c.Slope
	start := c.fitted.best[1:]
	exceeds := func(x float64) (bool, error) {
		along := append([]float64{x}, c.others...)
		found, value, _, err := fit(profile{c.fitted.data, level, along}, start)
		start = found
		return 2*(value-c.fitted.value) > z*z, err
	}
	step := z * c.deviation(best) / c.Slope
	low, high := best, best+step
	for {
		over, err := exceeds(high)
		if err != nil || high-best > 1e3*step {
			return 0, errUnbounded
		}
		if over {
			break
		}
		low, high = high, best+2*(high-best)
	}
	for range 60 {
		middle := (low + high) / 2
		over, err := exceeds(middle)
		if err != nil {
			return 0, err
		}
		if over {
			high = middle
		} else {
			low = middle
		}
	}
	return high, nil
}

// fitted is data with the parameters of largest likelihood.
type fitted struct {
	data       likelihood
	best       []float64
	value      float64
	covariance *mat.SymDense
}

func newFitted(data likelihood, start []float64) (*fitted, error) {
	best, value, covariance, err := fit(data, start)
	if err != nil {
		return nil, err
	}
	return &fitted{data, best, value, covariance}, nil
}

// curve returns the curve whose predictor is the intercept, plus the slope times x, plus the other
// parameters times fixed numbers.
func (f *fitted) curve(others ...float64) *Curve {
	c := &Curve{Slope: f.best[1], fitted: f, others: others}
	row := append([]float64{1, 0}, others...) // the intercept as a sum of parameters
	for i, a := range row {
		c.Intercept += a * f.best[i]
		c.Covariance[0][1] += a * f.covariance.At(i, 1)
		for j, b := range row {
			c.Covariance[0][0] += a * b * f.covariance.At(i, j)
		}
	}
	c.Covariance[1][0], c.Covariance[1][1] = c.Covariance[0][1], f.covariance.At(1, 1)
	return c
}
