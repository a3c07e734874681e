// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Group is the result of a trial on flaws of one size. A single flaw is a group of one.
type Group struct {
	Size   float64 // any unit, the same in all groups; above 0 unless the curve is linear
	Trials int     // flaws that were examined, 1 or more
	Hits   int     // flaws that were detected, 0 to Trials
}

// HitMissOptions are choices for [FitHitMiss]. Nil means zero values.
type HitMissOptions struct {
	Link   Link // shape of the curve; Logit by default
	Linear bool // a curve over the size; by default over the natural logarithm of the size
}

// FitHitMiss returns the curve of largest likelihood through hits and misses of independent flaws,
// by iteratively reweighted least squares. The order of the groups does not matter. The deviance of
// the curve refers to the groups as they are given.
//
// A trial without a miss, or without a hit, has no such curve. The same holds if a size separates
// all hits from all misses: a step at this size is the most likely curve. FitHitMiss returns an
// error that says so. [LowerBound] still holds for flaws of one size.
func FitHitMiss(groups []Group, o *HitMissOptions) (*Curve, error) {
	if o == nil {
		o = &HitMissOptions{}
	}
	if o.Link < Logit || o.Link > ComplementaryLogLog {
		return nil, fmt.Errorf("detection: link %d: want Logit, Probit or ComplementaryLogLog", o.Link)
	}
	data := &hitMiss{link: o.Link}
	for i, g := range groups {
		if err := checkSize(i, g.Size, o.Linear); err != nil {
			return nil, err
		}
		if g.Trials < 1 || g.Hits < 0 || g.Hits > g.Trials {
			return nil, fmt.Errorf("detection: group %d: %d hits in %d trials: want 1 trial or more, and at most as many hits",
				i, g.Hits, g.Trials)
		}
		data.x = append(data.x, scaled(g.Size, o.Linear))
		data.hits = append(data.hits, float64(g.Hits))
		data.misses = append(data.misses, float64(g.Trials-g.Hits))
	}
	if err := data.overlap(); err != nil {
		return nil, err
	}
	found, err := newFitted(data, []float64{o.Link.predictor(data.rate()), 0})
	if err != nil {
		return nil, err
	}
	c := found.curve()
	c.Link, c.Linear = o.Link, o.Linear
	c.Deviance = 2 * (found.value - data.saturated())
	return c, nil
}

// checkSize returns an error for a size that has no place on the axis of a curve.
func checkSize(i int, size float64, linear bool) error {
	if !number.Finite(size) || !linear && size <= 0 {
		return fmt.Errorf("detection: size %v at index %d: want a finite number, above 0 unless the curve is linear", size, i)
	}
	return nil
}

// scaled returns a size on the axis of a curve.
func scaled(size float64, linear bool) float64 {
	if linear {
		return size
	}
	return math.Log(size)
}

// hitMiss is the likelihood of hits and misses, group by group.
type hitMiss struct {
	link            Link
	x, hits, misses []float64
}

func (d *hitMiss) at(parameters []float64) (float64, []float64, *mat.SymDense) {
	value, gradient, information := 0.0, make([]float64, 2), mat.NewSymDense(2, nil)
	for i, x := range d.x {
		hit, miss, slope := d.link.mean(parameters[0] + parameters[1]*x)
		value -= d.hits[i]*math.Log(hit) + d.misses[i]*math.Log(miss)
		pull := slope * (d.misses[i]/miss - d.hits[i]/hit)
		weight := (d.hits[i] + d.misses[i]) * slope * slope / (hit * miss)
		gradient[0] += pull
		gradient[1] += pull * x
		information.SetSym(0, 0, information.At(0, 0)+weight)
		information.SetSym(0, 1, information.At(0, 1)+weight*x)
		information.SetSym(1, 1, information.At(1, 1)+weight*x*x)
	}
	return value, gradient, information
}

// rate returns the share of hits in all trials.
func (d *hitMiss) rate() float64 {
	hits, all := 0.0, 0.0
	for i := range d.x {
		hits += d.hits[i]
		all += d.hits[i] + d.misses[i]
	}
	return hits / all
}

// saturated returns the value of a model that fits each group.
func (d *hitMiss) saturated() float64 {
	value := 0.0
	for i := range d.x {
		n := d.hits[i] + d.misses[i]
		for _, k := range []float64{d.hits[i], d.misses[i]} {
			if k > 0 {
				value -= k * math.Log(k/n)
			}
		}
	}
	return value
}

// overlap returns an error unless a curve of largest likelihood exists: hits and misses overlap in
// size.
func (d *hitMiss) overlap() error {
	inf := math.Inf(1)
	hitLow, hitHigh, missLow, missHigh := inf, -inf, inf, -inf
	for i, x := range d.x {
		if d.hits[i] > 0 {
			hitLow, hitHigh = min(hitLow, x), max(hitHigh, x)
		}
		if d.misses[i] > 0 {
			missLow, missHigh = min(missLow, x), max(missHigh, x)
		}
	}
	switch {
	case len(d.x) == 0:
		return errors.New("detection: no group: want hits and misses")
	case hitHigh == -inf:
		return errors.New("detection: too few data: no flaw was detected: want hits and misses")
	case missHigh == -inf:
		return errors.New("detection: too few data: no flaw was missed: want hits and misses, or a bound for one size (LowerBound)")
	case min(hitLow, missLow) == max(hitHigh, missHigh):
		return errors.New("detection: too few data: all flaws have one size: want several sizes, or a bound for one size (LowerBound)")
	case missHigh <= hitLow || hitHigh <= missLow:
		return errors.New("detection: separation: one size separates all hits from all misses, and the most likely curve is a step there: " +
			"want more flaws near this size")
	}
	return nil
}
