// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Limit says whether a signal was measured. The zero value is Measured.
type Limit int

const (
	Measured Limit = iota // the signal has the value of the reading
	Below                 // the signal is at most the value: it is lost in the noise
	Above                 // the signal is at least the value: the instrument is saturated
)

// Reading is the signal of one flaw.
type Reading struct {
	Size   float64 // any unit, the same in all readings; above 0 unless the curve is linear
	Signal float64 // amplitude, or better a level in dB: its scatter must not depend on the size
	Limit  Limit   // for a signal below the noise or above the range of the instrument
}

// SignalOptions are choices for [FitSignals]. Nil means zero values.
type SignalOptions struct {
	Linear bool // signals over the size; by default over the natural logarithm of the size
}

// Response is the straight line of signals over size, with normal scatter:
//
//	signal = Intercept + Slope·x + Deviation·N(0, 1),   x = ln size, or size if Linear
//
// [FitSignals] makes it. A line from elsewhere can be written as a literal: its curves have no
// bounds.
type Response struct {
	Intercept, Slope float64
	Deviation        float64 // standard deviation of one signal, above 0
	Linear           bool

	fitted *fitted // nil for a literal
}

// FitSignals returns the line of largest likelihood through signals of independent flaws. Signals
// below the noise and above the range count as such, and must not be left out: without them the
// line is too flat or too steep. The deviation is the estimate of largest likelihood. For few
// readings it is low by a factor of about √((n - 2)/n).
//
// Too few data are an error: fewer than 3 measured signals, fewer than 2 sizes among them, or
// signals without any scatter.
func FitSignals(readings []Reading, o *SignalOptions) (*Response, error) {
	if o == nil {
		o = &SignalOptions{}
	}
	data := &signals{}
	var x, y []float64
	for i, r := range readings {
		if err := checkSize(i, r.Size, o.Linear); err != nil {
			return nil, err
		}
		if !number.Finite(r.Signal) || r.Limit < Measured || r.Limit > Above {
			return nil, fmt.Errorf("detection: signal %v with limit %d at index %d: want a finite signal, and Measured, Below or Above",
				r.Signal, r.Limit, i)
		}
		r.Size = scaled(r.Size, o.Linear)
		data.readings = append(data.readings, r)
		if r.Limit == Measured {
			x, y = append(x, r.Size), append(y, r.Signal)
		}
	}
	start, err := straight(x, y)
	if err != nil {
		return nil, err
	}
	f, err := newFitted(data, start)
	if err != nil {
		return nil, err
	}
	tau := 1 / f.best[2]
	return &Response{Intercept: f.best[0] * tau, Slope: f.best[1] * tau, Deviation: tau, Linear: o.Linear, fitted: f}, nil
}

// straight returns the parameters of the line of least squares.
func straight(x, y []float64) ([]float64, error) {
	if len(x) < 3 || stat.Variance(x, nil) == 0 {
		return nil, fmt.Errorf("detection: too few data: %d measured signals: want 3 or more, with 2 sizes or more", len(x))
	}
	intercept, slope := stat.LinearRegression(x, y, nil, false)
	sum := 0.0
	for i := range x {
		r := y[i] - intercept - slope*x[i]
		sum += r * r
	}
	tau := math.Sqrt(sum / float64(len(x)))
	if !(tau > 1e-9*stat.StdDev(y, nil)) {
		return nil, errors.New("detection: too few data: the measured signals have no scatter about a line: want more readings")
	}
	return []float64{intercept / tau, slope / tau, 1 / tau}, nil
}

// Curve returns the probability that the signal of a flaw exceeds the decision level, as a curve
// over the size. The level has the unit of the signals. The curve is a cumulative normal
// distribution with the mean (decision - Intercept)/Slope and the standard deviation
// Deviation/Slope on the axis x of the line. [FalseCallRate] returns the rate of false calls at the
// same level.
func (r *Response) Curve(decision float64) (*Curve, error) {
	if !number.Finite(decision) {
		return nil, fmt.Errorf("detection: decision level %v: want a finite number", decision)
	}
	if !number.Finite(r.Intercept) || !number.Finite(r.Slope) || !number.Positive(r.Deviation) {
		return nil, fmt.Errorf("detection: intercept %v, slope %v, deviation %v: want finite numbers, and a deviation above 0",
			r.Intercept, r.Slope, r.Deviation)
	}
	c := &Curve{Intercept: (r.Intercept - decision) / r.Deviation, Slope: r.Slope / r.Deviation}
	if r.fitted != nil {
		c = r.fitted.curve(-decision)
	}
	c.Link, c.Linear, c.Deviance = Probit, r.Linear, math.NaN()
	return c, nil
}

// signals is the likelihood of readings. Its parameters are intercept, slope and 1, each over the
// deviation: in these parameters it is convex, also with limits (R. J. Olsen, Econometrica 46,
// 1978, from memory).
type signals struct {
	readings []Reading // sizes on the axis of the line
}

func (d *signals) at(p []float64) (float64, []float64, *mat.SymDense) {
	value, gradient, information := 0.0, make([]float64, 3), mat.NewSymDense(3, nil)
	if !(p[2] > 0) {
		return math.Inf(1), gradient, information
	}
	for _, reading := range d.readings {
		along := [3]float64{-1, -reading.Size, reading.Signal} // derivative of the residual
		residual := p[2]*reading.Signal - p[0] - p[1]*reading.Size
		v, first, second := loss(residual, reading.Limit)
		if reading.Limit == Measured {
			v -= math.Log(p[2])
			gradient[2] -= 1 / p[2]
			information.SetSym(2, 2, information.At(2, 2)+1/(p[2]*p[2]))
		}
		value += v
		for i, a := range along {
			gradient[i] += first * a
			for j := i; j < 3; j++ {
				information.SetSym(i, j, information.At(i, j)+second*a*along[j])
			}
		}
	}
	return value, gradient, information
}

// loss returns the negative log-likelihood of a residual in standard deviations, and its first and
// second derivatives.
func loss(r float64, limit Limit) (value, first, second float64) {
	switch limit {
	case Below:
		log, ratio := tailRatio(r)
		return -log, -ratio, ratio * (r + ratio)
	case Above:
		log, ratio := tailRatio(-r)
		return -log, ratio, ratio * (ratio - r)
	default:
		return r * r / 2, r, 1
	}
}

// tailRatio returns ln Φ(r) and Φ'(r)/Φ(r) of the normal distribution Φ.
func tailRatio(r float64) (log, ratio float64) {
	if r < -30 { // Φ(r) would underflow; the relative error of the series is 1e-6
		ratio = -r - 1/r
		return distuv.UnitNormal.LogProb(r) - math.Log(ratio), ratio
	}
	cdf := distuv.UnitNormal.CDF(r)
	return math.Log(cdf), distuv.UnitNormal.Prob(r) / cdf
}
