// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// TimeReading is a measured time of flight.
type TimeReading struct {
	Element r3.Vec // the transmitter, m
	// Point is the place where the wave is received, or the place of the known reflector, in m. For a
	// hole it is the point of its face from which the echo comes.
	Point r3.Vec
	// Receiver is the element that receives the echo of a reflector at Point, in m. Nil stands for a
	// wave that is received at Point.
	Receiver *r3.Vec
	// Skips holds the waves after each reflection on the way to Point ([Options].Skips). The echo of
	// the back wall in contact has one skip; its Point is the element that receives it.
	Skips []Polarisation
	Time  float64 // s
}

// FitOptions are the options of [Family.Fit].
type FitOptions struct {
	// Uncertainty is the standard uncertainty of each time in s, at least 0, if it is known. It sets
	// Fit.Probability. 0 stands for unknown: the scatter of the residuals takes its place.
	Uncertainty float64
	// Offset is the standard uncertainty of an error that all times have in common, in s, at least 0.
	// 0 stands for none.
	Offset float64
	// Outliers is the number of standard deviations beyond which a residual is left out, at least 2.
	// 0 stands for 4. +Inf leaves out none.
	Outliers float64
	// Rays holds the options of the search for rays. Its Skips have no effect. Nil stands for the
	// defaults.
	Rays *Options
}

// Estimate is a fitted parameter.
type Estimate struct {
	Name  string
	Value float64 // if it is not determined: the value near which the fit began
	// Uncertainty is the standard uncertainty in the unit of the parameter. It is +Inf if the data do
	// not tell the parameter.
	Uncertainty float64
	Determined  bool
}

// Combination is a sum of parameters that the data tell apart from other combinations.
type Combination struct {
	// Weights holds the weight of each parameter, in units of its range High − Low. The sum of their
	// squares is 1.
	Weights []float64
	// Uncertainty is the standard uncertainty of the sum, in the same units; +Inf if the data say
	// nothing of it.
	Uncertainty float64
	Determined  bool
}

// Fit is the result of [Family.Fit].
type Fit struct {
	Family    *Family    // with the fitted values
	Estimates []Estimate // of the parameters in their order
	// Correlation holds the correlation coefficients of the estimates, by the numbers of two
	// parameters. They are NaN for a parameter that is not determined.
	Correlation [][]float64
	// Combinations holds as many combinations as parameters, the best determined first.
	Combinations []Combination
	Offset       float64 // fitted error of all times, s; 0 without FitOptions.Offset
	// Residuals holds each reading less the fitted time, in s. It is NaN for a reading without ray.
	Residuals []float64
	Used      []bool  // which readings the fit used
	Scatter   float64 // standard deviation of the residuals that the fit used, s
	// DegreesOfFreedom says how well the uncertainties are known: the number of readings that the fit
	// used, of points, or of elements, less the number of parameters, whichever is least.
	DegreesOfFreedom int
	// Probability is the probability of residuals as large as these or larger, if the family is right
	// and the times have FitOptions.Uncertainty. Below about 0.01 the family does not explain the
	// times. NaN if the uncertainty is not known.
	Probability float64
}

// Determined reports whether the readings tell all parameters.
func (f *Fit) Determined() bool {
	return !slices.ContainsFunc(f.Estimates, func(e Estimate) bool { return !e.Determined })
}

// determined is the largest standard uncertainty of a determined parameter, as a share of its range.
const determined = 0.1

// Fit fits the parameters to measured times, by least squares with the derivatives of
// [Family.Derivatives]. It starts from the values of the family and stays within the limits of the
// parameters. More readings than parameters are needed. The polarisation and the ray are the same as
// for [Part.Times]; for readings with skips, pol is the wave before the first reflection.
//
// The uncertainties follow from the scatter of the residuals and from FitOptions.Uncertainty, whichever
// is larger. Readings of one point, and readings of one element, may have errors that are correlated in
// any way. The residuals show this if there are at least five points, or elements, more than parameters.
// The uncertainties are then larger, with fewer degrees of freedom. Do not give the same reading twice.
//
// A parameter is determined if its standard uncertainty is at most a tenth of its range. Otherwise its
// uncertainty is +Inf: use what was known before. The range says what is known before: choose it no
// wider than what is plausible. Two parameters that have the same effect on all times are both not
// determined; Combinations shows which sum of them is.
//
// A fit shows how well the times agree with the family. It does not show that the family is right: a
// wrong elastic constant can hide in a wrong T.
func (f *Family) Fit(ctx context.Context, pol Polarisation, readings []TimeReading, options *FitOptions) (*Fit, error) {
	if options == nil {
		options = new(FitOptions)
	}
	o := *options
	if err := o.check(readings); err != nil {
		return nil, err
	}
	p := &problem{pol: pol, readings: readings, options: &o, start: f}
	now, err := p.evaluate(ctx, f, 0)
	if err != nil {
		return nil, err
	}
	damping := 1e-3
	for range mostSteps {
		next, size, err := p.step(ctx, now, damping)
		if err != nil {
			return nil, err
		}
		gain := math.Inf(-1)
		before := p.misfit(now, now)
		if next != nil {
			gain = before - p.misfit(next, now)
		}
		if gain > 0 {
			now, damping = next, damping/10
		} else {
			damping *= 10
		}
		if size < settledStep || math.Abs(gain) < settledGain {
			return p.finish(now)
		}
	}
	return nil, fmt.Errorf("graded: fit of %d readings has not converged after %d steps", len(readings), mostSteps)
}

const (
	mostSteps   = 40
	settledStep = 1e-5 // of the range of a parameter
	settledGain = 1e-3 // of the misfit: a step of 0.03 standard uncertainties
)

// check returns an error that names the first field out of range, and sets defaults.
func (o *FitOptions) check(readings []TimeReading) error {
	if o.Outliers == 0 {
		o.Outliers = 4
	}
	switch {
	case len(readings) == 0:
		return fmt.Errorf("graded: fit to 0 readings: want more readings than parameters")
	case !(o.Uncertainty >= 0) || math.IsInf(o.Uncertainty, 1):
		return fmt.Errorf("graded: uncertainty of the times %v s: want a finite value, at least 0", o.Uncertainty)
	case !(o.Offset >= 0) || math.IsInf(o.Offset, 1):
		return fmt.Errorf("graded: uncertainty of the offset %v s: want a finite value, at least 0", o.Offset)
	case !(o.Outliers >= 2):
		return fmt.Errorf("graded: outliers beyond %v standard deviations: want at least 2", o.Outliers)
	}
	for i, r := range readings {
		if !number.Finite(r.Time) {
			return fmt.Errorf("graded: time of reading %d %v s: want a finite value", i, r.Time)
		}
	}
	return nil
}

// problem is what a fit does not change.
type problem struct {
	pol      Polarisation
	readings []TimeReading
	options  *FitOptions
	start    *Family
}

// solved is a family with the readings that it explains. Parameters are in units of their ranges.
type solved struct {
	family *Family
	// offset is in units of its uncertainty.
	offset    float64
	residuals []float64   // without the offset, s
	rows      [][]float64 // derivatives of the times by the parameters and by the offset, s
	used      []bool
	cut       float64 // residual beyond which a reading is left out, s
	scatter   float64 // of the residuals, s
}

// ends names the rays of readings with the same skips.
type ends struct {
	skips    []Polarisation
	elements []r3.Vec
	points   []r3.Vec
	pairs    [][3]int // reading, element, point
}

// evaluate returns the residuals and the derivatives of a family.
func (p *problem) evaluate(ctx context.Context, f *Family, offset float64) (*solved, error) {
	n := len(f.parameters)
	s := &solved{family: f, offset: offset, residuals: make([]float64, len(p.readings)), rows: make([][]float64, len(p.readings))}
	for i, r := range p.readings {
		s.residuals[i], s.rows[i] = r.Time-offset*p.options.Offset, make([]float64, n)
		if p.options.Offset > 0 {
			s.rows[i] = append(s.rows[i], p.options.Offset)
		}
	}
	for _, group := range p.groups() {
		wanted := make([]bool, len(group.elements)*len(group.points))
		for _, pair := range group.pairs {
			wanted[pair[1]*len(group.points)+pair[2]] = true
		}
		rays := Options{}
		if p.options.Rays != nil {
			rays = *p.options.Rays
		}
		rays.Skips = group.skips
		all, err := f.derivatives(ctx, p.pol, group.elements, group.points, wanted, &rays)
		if err != nil {
			return nil, err
		}
		for _, pair := range group.pairs {
			d := &all[pair[1]*len(group.points)+pair[2]]
			s.residuals[pair[0]] -= d.Time
			for k := range f.parameters {
				s.rows[pair[0]][k] += d.By[k] * (f.parameters[k].High - f.parameters[k].Low)
			}
		}
	}
	return s, s.choose(p.options)
}

// groups returns the rays that the readings need, by their skips.
func (p *problem) groups() []*ends {
	var groups []*ends
	index := func(list *[]r3.Vec, q r3.Vec) int {
		k := slices.Index(*list, q)
		if k < 0 {
			k, *list = len(*list), append(*list, q)
		}
		return k
	}
	for i, r := range p.readings {
		at := slices.IndexFunc(groups, func(g *ends) bool { return slices.Equal(g.skips, r.Skips) })
		if at < 0 {
			at, groups = len(groups), append(groups, &ends{skips: r.Skips})
		}
		g := groups[at]
		point := index(&g.points, r.Point)
		g.pairs = append(g.pairs, [3]int{i, index(&g.elements, r.Element), point})
		if r.Receiver != nil {
			g.pairs = append(g.pairs, [3]int{i, index(&g.elements, *r.Receiver), point})
		}
	}
	return groups
}

// choose chooses the readings to use: without outliers, which may be times of other waves.
func (s *solved) choose(o *FitOptions) error {
	var sizes []float64
	for _, r := range s.residuals {
		if r*0 == 0 {
			sizes = append(sizes, math.Abs(r))
		}
	}
	if len(sizes) <= len(s.rows[0]) {
		return fmt.Errorf("graded: fit of %d parameters to %d readings with a ray: want more readings",
			len(s.family.parameters), len(sizes))
	}
	slices.Sort(sizes)
	const normal = 1.4826 // standard deviation over the median of the sizes
	s.cut = o.Outliers * max(normal*sizes[len(sizes)/2], o.Uncertainty, leastScatter)
	s.used = make([]bool, len(s.residuals))
	var sum, count float64
	for i, r := range s.residuals {
		if s.used[i] = math.Abs(r) <= s.cut; s.used[i] {
			sum, count = sum+r*r, count+1
		}
	}
	s.scatter = math.Sqrt(sum / max(count-float64(len(s.family.parameters)), 1))
	return nil
}

// leastScatter is the scatter of exact times in s: the tolerance of rays.
const leastScatter = 1e-11

// noise returns the standard deviation of the times in s.
func (s *solved) noise(o *FitOptions) float64 { return max(s.scatter, o.Uncertainty, leastScatter) }

// misfit returns what the fit makes small: the sum of the squares of the residuals in units of the
// noise of now, and the squares of the distances from the start in ranges, and of the offset. This
// weak tie to the start keeps parameters in place of which the readings say nothing. A residual
// beyond the cut of now counts as the cut.
func (p *problem) misfit(s, now *solved) float64 {
	sum := s.offset * s.offset
	for _, q := range p.away(s) {
		sum += q * q
	}
	for _, r := range s.residuals {
		size := math.Abs(r)
		if !(size <= now.cut) {
			size = now.cut // also for a reading without ray
		}
		sum += math.Pow(size/now.noise(p.options), 2)
	}
	return sum
}

// away returns the distances of the parameters from the start, in ranges.
func (p *problem) away(s *solved) []float64 {
	out := make([]float64, len(s.family.parameters))
	for k, q := range s.family.parameters {
		out[k] = (q.Value - p.start.parameters[k].Value) / (q.High - q.Low)
	}
	return out
}

// step returns the readings after a step of Gauss and Newton's method with damping, and the size of
// the step in ranges. It returns nil if there is no part at the end of the step.
func (p *problem) step(ctx context.Context, s *solved, damping float64) (*solved, float64, error) {
	m := len(s.rows[0])
	weight := 1 / s.noise(p.options)
	normal, right := mat.NewSymDense(m, nil), mat.NewVecDense(m, nil)
	row := mat.NewVecDense(m, nil)
	for i, used := range s.used {
		if used {
			row.ScaleVec(weight, mat.NewVecDense(m, s.rows[i]))
			normal.SymRankOne(normal, 1, row)
			right.AddScaledVec(right, s.residuals[i]*weight, row)
		}
	}
	away := append(p.away(s), s.offset)[:m]
	for k := range m {
		normal.SetSym(k, k, normal.At(k, k)*(1+damping)+1)
		right.SetVec(k, right.AtVec(k)-away[k])
	}
	var cholesky mat.Cholesky
	var by mat.VecDense
	if !cholesky.Factorize(normal) {
		return nil, math.Inf(1), nil // NaN in a derivative
	}
	if err := cholesky.SolveVecTo(&by, right); err != nil {
		return nil, math.Inf(1), nil
	}
	values, size := s.family.Values(), 0.0
	for k, q := range s.family.parameters {
		to := max(q.Low, min(q.High, q.Value+by.AtVec(k)*(q.High-q.Low)))
		size = max(size, math.Abs(to-q.Value)/(q.High-q.Low))
		values[k] = to
	}
	offset := s.offset
	if m > len(values) {
		offset += by.AtVec(m - 1)
	}
	f, err := s.family.At(values)
	if err != nil {
		return nil, size, nil
	}
	next, err := p.evaluate(ctx, f, offset)
	if err != nil && ctx.Err() == nil {
		return nil, size, nil
	}
	return next, size, err
}
