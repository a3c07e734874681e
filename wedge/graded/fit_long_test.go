// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package graded

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/check"
)

func TestFitFullWaveLong(t *testing.T) { checkFullWave(t, 1) }

// TestFitCoverageLong fits times with noise and counts how often the intervals of 95 % hold the truth.
// Half of the trials have noise that all readings of a point have in common. The counts of 400
// intervals must be at least 0.95 less three standard deviations of the count.
func TestFitCoverageLong(t *testing.T) {
	const trials = 200
	random := rand.New(rand.NewPCG(7, 8))
	for _, shared := range []float64{0, 4e-9} {
		held, intervals := 0, 0
		for range trials {
			start := plateFamily(t, 5900*(1+0.01*random.NormFloat64()), 1, 20e-3)
			f := check.Must(NewFamily([]Parameter{start.parameters[0], {"depth", 10e-3, 8e-3, 11e-3}}, func(v []float64) (*Part, error) {
				p, err := start.build([]float64{v[0], 1, 20e-3})
				if err == nil { // a layer of metal that is twice as fast below
					lower := check.Must(start.build([]float64{v[0], 2, 20e-3}))
					p.Media, p.Faces = append(p.Media, lower.Media...), append(p.Faces, plane(v[1]))
				}
				return p, err
			}))
			truth := check.Must(f.At([]float64{5900, 9.5e-3}))
			readings := plateReadings(random, 0)
			p := &problem{pol: qL, readings: readings, options: &FitOptions{Outliers: math.Inf(1), Rays: &Options{Spacing: 2e-3}}, start: truth}
			s := check.Must(p.evaluate(t.Context(), truth, 0))
			common := make(map[float64]float64)
			for i := range readings {
				key := readings[i].Point.X
				if _, found := common[key]; !found {
					common[key] = shared * random.NormFloat64()
				}
				readings[i].Time += -s.residuals[i] + common[key] + 3e-9*random.NormFloat64()
			}
			fit := check.Must(f.Fit(t.Context(), qL, readings, &FitOptions{Rays: &Options{Spacing: 2e-3}}))
			k := distuv.StudentsT{Sigma: 1, Nu: float64(fit.DegreesOfFreedom)}.Quantile(0.975)
			for i, want := range []float64{5900, 9.5e-3} {
				intervals++
				if math.Abs(fit.Estimates[i].Value-want) <= k*fit.Estimates[i].Uncertainty {
					held++
				}
			}
		}
		t.Logf("shared noise %v s: %d of %d intervals hold the truth", shared, held, intervals)
		if least := 0.95*float64(intervals) - 3*math.Sqrt(0.95*0.05*float64(intervals)); !(float64(held) >= least) {
			t.Errorf("shared noise %v s: %d of %d intervals hold the truth, want at least %.0f", shared, held, intervals, least)
		}
	}
}
