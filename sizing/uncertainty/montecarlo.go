// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/number"
)

// MonteCarloOptions modifies [MonteCarlo]. Nil stands for the zero value.
type MonteCarloOptions struct {
	// Trials is the number of results: at least 100. 0 stands for 100,000. An interval of 95 %
	// wants 10,000 at least, and 1e6 for two or three significant digits (GUM Supplement 1, 7.2).
	Trials int
	// Seed is the seed of the random numbers: the same seed gives the same results.
	Seed uint64
}

// Distribution is the distribution of a result.
type Distribution struct {
	Mean      float64
	Deviation float64 // standard deviation
	sorted    []float64
}

// MonteCarlo returns the distribution of the result f of input quantities, by propagation of
// distributions (GUM Supplement 1: JCGM 101:2008). Each trial draws all quantities from their
// distributions and calls f, whose argument holds the quantities in their order. f must not keep
// the argument. A result that is not finite is an error.
//
// A [Normal] quantity with finite degrees of freedom has Student's distribution. Correlated
// quantities must be Normal. A group of them has a multivariate distribution of Student, with the
// degrees of freedom of the group ([Combine]).
func MonteCarlo(f func([]float64) float64, quantities []Quantity, correlations []Correlation, options *MonteCarloOptions) (*Distribution, error) {
	trials, seed := 100_000, uint64(0)
	if options != nil {
		seed = options.Seed
		if options.Trials != 0 {
			trials = options.Trials
		}
	}
	if f == nil {
		return nil, errors.New("uncertainty: function, nil: want one")
	}
	const fewest, most = 100, 1 << 28
	if trials < fewest || trials > most {
		return nil, fmt.Errorf("uncertainty: %d trials: want %d to %d, or 0 for the default", trials, fewest, most)
	}
	j, err := newJoint(quantities, correlations)
	if err != nil {
		return nil, err
	}
	d, err := newDraw(j, seed)
	if err != nil {
		return nil, err
	}
	x := make([]float64, len(quantities))
	results := make([]float64, trials)
	for t := range results {
		d.next(x)
		if results[t] = f(x); !number.Finite(results[t]) {
			return nil, fmt.Errorf("uncertainty: trial %d gave %v: want a finite result", t, results[t])
		}
	}
	mean, deviation := stat.MeanStdDev(results, nil)
	slices.Sort(results)
	return &Distribution{mean, deviation, results}, nil
}

// Interval returns the interval that holds the result with a probability of level, and exceeds it
// on each side with the same probability. The ends are NaN if the level is not above 0 and below
// 1, or if [MonteCarlo] did not make the distribution.
func (d *Distribution) Interval(level float64) (low, high float64) {
	if !(level > 0 && level < 1) || len(d.sorted) == 0 {
		return math.NaN(), math.NaN()
	}
	return stat.Quantile((1-level)/2, stat.LinInterp, d.sorted, nil), stat.Quantile((1+level)/2, stat.LinInterp, d.sorted, nil)
}

// Simulate returns the value with its expanded uncertainty for a level of confidence, above 0 and
// below 1, from the distributions of the quantities: [MonteCarlo] of the linear function of the
// budget. The factor is smaller than the factor of [Budget.Result] if a rectangular quantity
// dominates, and the interval then holds the truth as often as the level says.
func (b *Budget) Simulate(level float64, options *MonteCarloOptions) (Result, error) {
	if !(level > 0 && level < 1) {
		return Result{}, fmt.Errorf("uncertainty: level of confidence %v: want above 0 and below 1", level)
	}
	quantities := make([]Quantity, len(b.Contributions))
	for i, c := range b.Contributions {
		quantities[i] = c.Quantity
		quantities[i].Value = 0
	}
	deviation := func(x []float64) float64 {
		sum := 0.0
		for i := range x {
			sum += b.Contributions[i].Sensitivity * x[i]
		}
		return sum
	}
	d, err := MonteCarlo(deviation, quantities, b.Correlations, options)
	if err != nil {
		return Result{}, err
	}
	low, high := d.Interval(level)
	r := Result{Value: b.Value, Expanded: (high - low) / 2, Factor: math.NaN(), Level: level, Unit: b.Unit}
	if b.Uncertainty > 0 {
		r.Factor = r.Expanded / b.Uncertainty
	}
	return r, nil
}

// draw draws quantities at random.
type draw struct {
	*joint
	rng     *rand.Rand
	source  rand.Source
	root    *mat.Dense // of the correlations; nil without
	normals []float64
	freedom map[int]float64
	widen   []float64 // of each group: its factor in this trial
}

func newDraw(j *joint, seed uint64) (*draw, error) {
	n := len(j.quantities)
	source := rand.NewPCG(seed, 0x9e3779b97f4a7c15) // any constant
	d := &draw{joint: j, rng: rand.New(source), source: source, normals: make([]float64, n), freedom: j.freedom(), widen: make([]float64, n)}
	correlated := false
	for i, q := range j.quantities {
		for k := range n {
			if k == i || j.r.At(i, k) == 0 {
				continue
			}
			correlated = true
			if q.Shape != Normal {
				return nil, fmt.Errorf("uncertainty: %s is %v and correlated: want a correlated quantity to be normal", q.Name, q.Shape)
			}
		}
	}
	if correlated {
		root, err := j.root()
		if err != nil {
			return nil, err
		}
		d.root = root
	}
	return d, nil
}

// next draws all quantities.
func (d *draw) next(x []float64) {
	for i := range d.normals {
		d.normals[i] = d.rng.NormFloat64()
	}
	for g := range d.widen {
		d.widen[g] = 1
		if v := d.freedom[g]; v != 0 {
			d.widen[g] = math.Sqrt(v / distuv.ChiSquared{K: v, Src: d.source}.Rand())
		}
	}
	for i, q := range d.quantities {
		x[i] = q.Value + q.Uncertainty*d.deviate(i, q.Shape)
	}
}

// deviate returns a deviate of quantity i with a standard deviation of 1, or wider for few degrees
// of freedom.
func (d *draw) deviate(i int, shape Shape) float64 {
	u := d.rng.Float64()
	switch shape {
	case Rectangular:
		return Rectangular.divisor() * (2*u - 1)
	case Triangular:
		return Triangular.divisor() * (u + d.rng.Float64() - 1)
	case Arcsine:
		return Arcsine.divisor() * math.Sin(2*math.Pi*u)
	}
	z := d.normals[i]
	if d.root != nil {
		z = 0
		for k, v := range d.normals {
			z += d.root.At(i, k) * v
		}
	}
	return z * d.widen[d.group[i]]
}
