// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Link is the shape of a curve of hits and misses: the function F of the probability of detection
// F(intercept + slope·x). The zero value is Logit.
type Link int

const (
	Logit               Link = iota // F(e) = 1/(1 + exp(-e)), the log-odds model
	Probit                          // F(e) = Φ(e), the normal distribution
	ComplementaryLogLog             // F(e) = 1 - exp(-exp(e)), not symmetric
)

// steepest bounds the predictor, so that the weights of the fit stay above 0.
const steepest = 30

// mean returns F and its derivative at a predictor, and 1 - F without cancellation.
func (l Link) mean(e float64) (f, miss, slope float64) {
	switch l {
	case Probit:
		e = max(-8, min(e, 8))
		return distuv.UnitNormal.CDF(e), distuv.UnitNormal.Survival(e), distuv.UnitNormal.Prob(e)
	case ComplementaryLogLog:
		e = max(-steepest, min(e, 3.5))
		return -math.Expm1(-math.Exp(e)), math.Exp(-math.Exp(e)), math.Exp(e - math.Exp(e))
	default:
		e = max(-steepest, min(e, steepest))
		f, miss = 1/(1+math.Exp(-e)), 1/(1+math.Exp(e))
		return f, miss, f * miss
	}
}

// predictor returns the predictor at which the probability is p.
func (l Link) predictor(p float64) float64 {
	switch l {
	case Probit:
		return distuv.UnitNormal.Quantile(p)
	case ComplementaryLogLog:
		return math.Log(-math.Log1p(-p))
	default:
		return math.Log(p / (1 - p))
	}
}
