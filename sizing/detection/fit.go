// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// likelihood is the negative log-likelihood of data, a function of two or more parameters. The
// first parameter is the intercept, the second is the slope over the size.
type likelihood interface {
	// at returns the value, the gradient and the information: the expected or the exact matrix of
	// the second derivatives, positive definite. The value is +Inf outside of the allowed range.
	at(parameters []float64) (value float64, gradient []float64, information *mat.SymDense)
}

var errNotFitted = errors.New("detection: the fit does not converge: want data in which hits and misses, or signals, overlap more")

// fit minimises a likelihood by Newton's method, and returns the parameters, the value and the
// covariance of the parameters. With the expected information this is the method of iteratively
// reweighted least squares.
func fit(l likelihood, start []float64) ([]float64, float64, *mat.SymDense, error) {
	x := slices.Clone(start)
	for range 200 {
		value, gradient, information := l.at(x)
		var factor mat.Cholesky
		var step mat.VecDense
		slope := mat.NewVecDense(len(x), gradient)
		if !factor.Factorize(information) || factor.SolveVecTo(&step, slope) != nil {
			return nil, 0, nil, errNotFitted
		}
		if mat.Dot(&step, slope) <= 1e-18*(1+math.Abs(value)) {
			covariance := mat.NewSymDense(len(x), nil)
			if factor.InverseTo(covariance) != nil {
				return nil, 0, nil, errNotFitted
			}
			floats.Sub(x, step.RawVector().Data)
			return x, value, covariance, nil
		}
		if !descend(l, x, step.RawVector().Data, value) {
			return nil, 0, nil, errNotFitted
		}
	}
	return nil, 0, nil, errNotFitted
}

// descend subtracts the step from x, or the largest half, quarter and so on that does not raise the
// value. It reports whether there is one.
func descend(l likelihood, x, step []float64, value float64) bool {
	next := make([]float64, len(x))
	for scale := 1.0; scale > 1e-9; scale /= 2 {
		for i := range x {
			next[i] = x[i] - scale*step[i]
		}
		if v, _, _ := l.at(next); v <= value+1e-13*(1+math.Abs(value)) { // rounding of a sum
			copy(x, next)
			return true
		}
	}
	return false
}

// profile is a likelihood without its intercept: the intercept is such that the predictor
//
//	intercept + Σ along[k]·parameter[k]
//
// equals a given number.
type profile struct {
	likelihood
	predictor float64
	along     []float64
}

func (p profile) at(parameters []float64) (float64, []float64, *mat.SymDense) {
	n := len(parameters)
	all := append([]float64{p.predictor}, parameters...)
	for k, d := range p.along {
		all[0] -= d * parameters[k]
	}
	value, full, second := p.likelihood.at(all)
	gradient, information := make([]float64, n), mat.NewSymDense(n, nil)
	for i, di := range p.along {
		gradient[i] = full[i+1] - di*full[0]
		for j := i; j < n; j++ {
			dj := p.along[j]
			information.SetSym(i, j, second.At(i+1, j+1)-di*second.At(0, j+1)-dj*second.At(i+1, 0)+di*dj*second.At(0, 0))
		}
	}
	return value, gradient, information
}
