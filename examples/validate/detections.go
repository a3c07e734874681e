// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"

	"github.com/isochron-imaging/isochron/sizing/detection"
)

// detections checks the statistics of trials of detection.
func detections() []check {
	trials := func(pod, confidence float64, misses int) func() (float64, error) {
		return func() (float64, error) {
			n, err := detection.Trials(pod, confidence, misses)
			return float64(n), err
		}
	}
	bound := func(hits, of int) func() (float64, error) {
		return func() (float64, error) { return detection.LowerBound(hits, of, 0.95) }
	}
	return []check{
		{"flaws for 90 % with 95 % confidence, no miss", published, "MIL-HDBK-1823A, from memory", "29", "", 0, trials(0.9, 0.95, 0)},
		{"the same with one miss", published, "MIL-HDBK-1823A, from memory", "46", "", 0, trials(0.9, 0.95, 1)},
		{"the same with two misses", published, "MIL-HDBK-1823A, from memory", "61", "", 0, trials(0.9, 0.95, 2)},
		{"flaws for 95 % with 95 % confidence, no miss", closedForm, "algebra, least n with 0.95ⁿ ≤ 0.05", "59", "", 0, trials(0.95, 0.95, 0)},
		{"flaws for 99 % with 95 % confidence, no miss", closedForm, "algebra, least n with 0.99ⁿ ≤ 0.05", "299", "", 0, trials(0.99, 0.95, 0)},
		{"lower bound of 29 hits in 29", closedForm, "Clopper 1934, 0.05^(1/29)", "0.901855372", "", 0, bound(29, 29)},
		{"lower bound of 28 hits in 29", calculated, "SciPy, beta quantile", "0.846607975", "", 0, bound(28, 29)},
		{"lower bound of 57 hits in 60", calculated, "SciPy, beta quantile", "0.875812790", "", 0, bound(57, 60)},
		{"dose trial, logit, intercept", published, "Dobson 2002, beetles of Bliss 1935, from memory", "-60.72", "", 0, curve(beetles, detection.Logit, intercept)},
		{"dose trial, logit, slope", published, "Dobson 2002, beetles of Bliss 1935, from memory", "34.27", "", 0, curve(beetles, detection.Logit, slope)},
		{"dose trial, logit, deviance", published, "Dobson 2002, beetles of Bliss 1935, from memory", "11.23", "", 0, curve(beetles, detection.Logit, deviance)},
		{"dose trial, logit, standard error of the intercept", calculated, "SciPy, likelihood", "5.180711", "", 0,
			curve(beetles, detection.Logit, func(c *detection.Curve) float64 { return math.Sqrt(c.Covariance[0][0]) })},
		{"dose trial, probit, slope", calculated, "SciPy, likelihood", "19.727934", "", 0, curve(beetles, detection.Probit, slope)},
		{"dose trial, complementary log-log, deviance", calculated, "SciPy, likelihood", "3.446439", "", 0, curve(beetles, detection.ComplementaryLogLog, deviance)},
		{"flights, logit, intercept", published, "Dalal 1989, fit in circulation", "15.0429", "", 0, curve(flights, detection.Logit, intercept)},
		{"flights, logit, slope", published, "Dalal 1989, fit in circulation", "-0.2322", "1/°F", 0, curve(flights, detection.Logit, slope)},
		{"signals over size, a90", calculated, "mpmath, exp(µ + 1.2816 σ)", "1.992360027", "", 0, func() (float64, error) {
			r := detection.Response{Intercept: 1.2, Slope: 0.9, Deviation: 0.25}
			c, err := r.Curve(1.5)
			if err != nil {
				return 0, err
			}
			return c.Size(0.9), nil
		}},
		{"false calls, noise of 0.4 ± 0.3, decision 1.5", calculated, "SciPy, normal tail", "1.228664e-4", "", 0, func() (float64, error) {
			return detection.FalseCallRate(0.4, 0.3, 1.5)
		}},
	}
}

func intercept(c *detection.Curve) float64 { return c.Intercept }
func slope(c *detection.Curve) float64     { return c.Slope }
func deviance(c *detection.Curve) float64  { return c.Deviance }

// curve fits hits and misses over the size.
func curve(groups []detection.Group, link detection.Link, of func(*detection.Curve) float64) func() (float64, error) {
	return func() (float64, error) {
		c, err := detection.FitHitMiss(groups, &detection.HitMissOptions{Link: link, Linear: true})
		if err != nil {
			return 0, err
		}
		return of(c), nil
	}
}

// beetles are the data of Bliss 1935: dose, animals, deaths.
var beetles = []detection.Group{
	{Size: 1.6907, Trials: 59, Hits: 6}, {Size: 1.7242, Trials: 60, Hits: 13}, {Size: 1.7552, Trials: 62, Hits: 18},
	{Size: 1.7842, Trials: 56, Hits: 28}, {Size: 1.8113, Trials: 63, Hits: 52}, {Size: 1.8369, Trials: 59, Hits: 53},
	{Size: 1.8610, Trials: 62, Hits: 61}, {Size: 1.8839, Trials: 60, Hits: 60},
}

// flights are the data of Dalal 1989: temperature in °F of 23 flights, those with damage, and
// those without.
var flights = func() (all []detection.Group) {
	for _, t := range []float64{53, 57, 58, 63, 70, 70, 75} {
		all = append(all, detection.Group{Size: t, Trials: 1, Hits: 1})
	}
	for _, t := range []float64{66, 67, 67, 67, 68, 69, 70, 70, 72, 73, 75, 76, 76, 78, 79, 81} {
		all = append(all, detection.Group{Size: t, Trials: 1})
	}
	return all
}()
