// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection

import (
	"fmt"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/number"
)

// mostTrials is the largest number of trials that Trials returns.
const mostTrials = 1 << 20

// Trials returns the number of flaws of one size that demonstrates a probability of detection with
// a confidence, if so many of the flaws are missed. It is the smallest number n for which
//
//	P(at most misses of n are missed | probability of detection pod) ≤ 1 - confidence
//
// Probability and confidence are above 0 and below 1. For 0.9 and 0.95 the numbers are 29 without a
// miss, and 46 with one. An error also says that more than a million flaws are needed.
//
// Fix the number before the trial. A trial that goes on after a miss until it succeeds has a lower
// confidence.
func Trials(pod, confidence float64, misses int) (int, error) {
	if err := share("probability of detection", pod); err != nil {
		return 0, err
	}
	if err := share("confidence", confidence); err != nil {
		return 0, err
	}
	if misses < 0 {
		return 0, fmt.Errorf("detection: %d misses: want 0 or more", misses)
	}
	demonstrated := func(n int) bool { return tail(n-misses, n, pod) <= 1-confidence }
	low, high := misses, misses+1 // low flaws do not demonstrate it, high flaws may
	for !demonstrated(high) {
		if high > mostTrials {
			return 0, fmt.Errorf("detection: probability %v with confidence %v and %d misses: want a demand that a million flaws can show",
				pod, confidence, misses)
		}
		low, high = high, 2*high
	}
	for high-low > 1 {
		if middle := (low + high) / 2; demonstrated(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high, nil
}

// tail returns the probability of hits or more hits in n trials with the probability p each. Hits
// are from 1 to n.
func tail(hits, n int, p float64) float64 {
	return mathext.RegIncBeta(float64(hits), float64(n-hits+1), p)
}

// LowerBound returns the lower confidence bound of the probability of detection of flaws of one
// size, from the number of hits in trials of independent flaws. The bound is one-sided, by C. J.
// Clopper and E. S. Pearson (Biometrika 26, 1934, from memory): its true confidence is never below
// the stated one. 29 hits in 29 trials give 0.902 with the confidence 0.95.
//
// For the upper bound of the rate of false calls at sites without a flaw, count the sites without a
// call as hits. The upper bound is 1 - LowerBound.
//
// Hits are from 0 to trials, trials at least 1, and the confidence is above 0 and below 1.
func LowerBound(hits, trials int, confidence float64) (float64, error) {
	if trials < 1 {
		return 0, fmt.Errorf("detection: %d trials: want 1 or more", trials)
	}
	if hits < 0 || hits > trials {
		return 0, fmt.Errorf("detection: %d hits: want 0 to %d, the number of trials", hits, trials)
	}
	if err := share("confidence", confidence); err != nil {
		return 0, err
	}
	if hits == 0 {
		return 0, nil
	}
	return mathext.InvRegIncBeta(float64(hits), float64(trials-hits+1), 1-confidence), nil
}

// FalseCallRate returns the probability that noise alone exceeds the decision level at one site.
// The noise has a normal distribution with a mean and a standard deviation, in the unit of the
// decision level. The deviation is above 0.
//
// If the site is the largest of many pixels, mean and deviation are of the largest pixel.
func FalseCallRate(mean, deviation, decision float64) (float64, error) {
	if !number.Finite(mean) || !number.Finite(decision) {
		return 0, fmt.Errorf("detection: mean %v and decision level %v: want finite numbers", mean, decision)
	}
	if !number.Positive(deviation) {
		return 0, fmt.Errorf("detection: standard deviation %v: want a finite number above 0", deviation)
	}
	return distuv.UnitNormal.Survival((decision - mean) / deviation), nil
}

// share returns an error unless v is above 0 and below 1.
func share(name string, v float64) error {
	if !(v > 0 && v < 1) {
		return fmt.Errorf("detection: %s %v: want a number above 0 and below 1", name, v)
	}
	return nil
}
