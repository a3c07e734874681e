// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// trialRate is the sample rate of the trials in Hz, 12 samples a period.
const trialRate = 50e6

// draws returns errors of all parameters, drawn from their distributions.
func (s *scenario) draws(seed uint64) faults {
	rng := rand.New(rand.NewPCG(seed, 77))
	var e faults
	for q := range Parameter(parameters) {
		u := s.inputs.Parameters[q].Uncertainty
		switch s.inputs.Parameters[q].Shape {
		case Normal:
			e.by[q] = u * rng.NormFloat64()
		case Rectangular:
			e.by[q] = u * math.Sqrt(3) * (2*rng.Float64() - 1)
		case Triangular:
			e.by[q] = u * math.Sqrt(6) * (rng.Float64() - rng.Float64())
		}
	}
	u := s.inputs.Parameters[ElementPositions].Uncertainty
	setup, _ := s.setup(faults{})
	for range s.array.Elements {
		d := r3.Vec{X: u * rng.NormFloat64(), Z: u * rng.NormFloat64()}
		if setup.Coupling == nil {
			d.Z = 0 // elements stay on the surface
		}
		e.elements = append(e.elements, d)
	}
	return e
}

// holding counts how often intervals hold the truth.
type holding struct {
	normal, simulated int     // intervals with the factors of Result and of Simulate that hold the truth
	factor            float64 // of Simulate
}

// coverage makes readings with all errors at once, and counts for each result the intervals of
// 95 % that hold the truth.
func (s *scenario) coverage(t *testing.T, trials int) map[string]*holding {
	setup, _ := s.setup(faults{})
	points := [2]r3.Vec{s.at, s.other}
	var plans [2]*tfm.Plan
	clean := s.capture(t, faults{}, trialRate, s.at)
	for i, p := range points {
		plans[i] = s.plan(t, clean, p)
	}
	model := check.Must(NewModel(clean, setup, s.view, &Options{Pivot: s.pivot}))
	wall := check.Must(sizing.NewWall(setup.Entry, setup.Back))
	line := r3.Sub(s.other, s.at)
	all := make(map[string]*holding)
	for seed := range uint64(trials) {
		e := s.draws(seed)
		var readings [2]*Reading
		for i, p := range points {
			c := s.capture(t, e, trialRate, p)
			c = check.Must(synth.Receiver{Noise: 0.05, Seed: 2*seed + uint64(i)}.Record(c))
			in := check.Must(sizing.Find(check.Must(plans[i].Image(t.Context(), c)).Envelope(nil), &sizing.Options{Floor: -3}))[0]
			peak := r3.Vec{X: in.X, Z: in.Z}
			readings[i] = &Reading{Place: check.Must(model.Reflector(peak)), SNRDB: in.SNRDB, Grid: 0.01 * step, Method: s.method * in.Length}
		}
		a, b := readings[0], readings[1]
		truth, _ := s.setup(e)
		far := check.Must(sizing.NewWall(truth.Entry, truth.Back))
		for _, r := range []struct {
			budget *Budget
			truth  float64
		}{
			{check.Must(s.inputs.X(a)), s.at.X},
			{check.Must(s.inputs.Z(a)), s.at.Z},
			{check.Must(s.inputs.Length(a, b)), r3.Norm(line)},
			{check.Must(s.inputs.Tilt(a, b)), math.Atan(-line.X / line.Z)},
			{check.Must(s.inputs.Remaining(wall, a)), far.Place(s.at).Remaining},
		} {
			result := r.budget.Result(0.95)
			count := all[r.budget.Name]
			if count == nil { // the shapes hardly change from trial to trial
				count = &holding{factor: check.Must(r.budget.Simulate(0.95, &MonteCarloOptions{Trials: 20_000})).Factor}
				all[r.budget.Name] = count
				t.Logf("%s, %s: %v, by simulation k = %.2f, truth %.5g", s.name, r.budget.Name, result, count.factor, r.truth)
			}
			if result.Holds(r.truth) {
				count.normal++
			}
			if math.Abs(result.Value-r.truth) <= count.factor*r.budget.Uncertainty {
				count.simulated++
			}
		}
	}
	return all
}

// TestCoverage is the short form of TestCoverageLong: most intervals hold the truth.
func TestCoverage(t *testing.T) {
	if testing.Short() {
		t.Skip("trials")
	}
	for _, s := range scenarios() {
		const trials = 8
		for name, count := range s.coverage(t, trials) {
			if count.simulated < trials*2/3 {
				t.Errorf("%s, %s: the intervals of 95 %% hold the truth in %d of %d trials", s.name, name, count.simulated, trials)
			}
		}
	}
}
