// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestResponseCurve has closed forms: a50 = exp((1.5 - 1.2)/0.9), and a90 with 1.281551566·0.25/0.9
// more in the exponent.
func TestResponseCurve(t *testing.T) {
	line := &Response{Intercept: 1.2, Slope: 0.9, Deviation: 0.25}
	curve := check.Must(line.Curve(1.5))
	check.Within(t, "a50", curve.Size(0.5), 1.395612425, 1e-9)
	check.Within(t, "a90", curve.Size(0.9), 1.992360027, 1e-9)
	if !math.IsNaN(curve.Deviance) {
		t.Errorf("deviance %v, want NaN", curve.Deviance)
	}
	_, err := curve.Bound(0.9, 0.95, Delta)
	check.Error(t, err, "without data")
}

// simulated returns readings of a known line: levels in dB over the logarithm of sizes. Levels
// below low and above high are limits.
func simulated(seed uint64, n int, low, high float64) []Reading {
	random := rand.New(rand.NewPCG(seed, 1))
	readings := make([]Reading, n)
	for i := range readings {
		size := math.Exp(-1 + 3*float64(i)/float64(n-1))
		r := Reading{Size: size, Signal: -30 + 12*math.Log(size) + 3*random.NormFloat64()}
		if r.Signal < low {
			r.Signal, r.Limit = low, Below
		} else if r.Signal > high {
			r.Signal, r.Limit = high, Above
		}
		readings[i] = r
	}
	return readings
}

// TestFitSignals compares a fit without limits with the line of least squares (gonum), and a fit
// with limits with a search of the same likelihood in other parameters by the method of Nelder and
// Mead (gonum).
func TestFitSignals(t *testing.T) {
	free := simulated(1, 40, math.Inf(-1), math.Inf(1))
	line := check.Must(FitSignals(free, nil))
	var x, y []float64
	for _, r := range free {
		x, y = append(x, math.Log(r.Size)), append(y, r.Signal)
	}
	intercept, slope := stat.LinearRegression(x, y, nil, false)
	check.Within(t, "intercept", line.Intercept, intercept, 1e-7)
	check.Within(t, "slope", line.Slope, slope, 1e-7)

	limited := simulated(2, 40, -36, -12)
	line = check.Must(FitSignals(limited, nil))
	counts := [3]int{}
	result := check.Must(optimize.Minimize(optimize.Problem{Func: func(p []float64) float64 {
		tau, sum := math.Exp(p[2]), 0.0
		for _, r := range limited {
			d := distuv.Normal{Mu: p[0] + p[1]*math.Log(r.Size), Sigma: tau}
			switch r.Limit {
			case Below:
				sum -= math.Log(d.CDF(r.Signal))
			case Above:
				sum -= math.Log(d.Survival(r.Signal))
			default:
				sum -= d.LogProb(r.Signal)
			}
		}
		return sum
	}}, []float64{-25, 10, 1}, &optimize.Settings{Converger: &optimize.FunctionConverge{Absolute: 1e-13, Iterations: 200}}, &optimize.NelderMead{}))
	for _, r := range limited {
		counts[r.Limit]++
	}
	if counts[Below] < 3 || counts[Above] < 3 {
		t.Fatalf("measured, below, above: %v, want 3 limits or more of each kind", counts)
	}
	check.Within(t, "intercept with limits", line.Intercept, result.X[0], 1e-4)
	check.Within(t, "slope with limits", line.Slope, result.X[1], 1e-4)
	check.Within(t, "deviation with limits", line.Deviation, math.Exp(result.X[2]), 1e-4)
	// The truth is -30, 12 and 3, from simulated. Without the limits the slope is far too small.
	check.Within(t, "true slope", line.Slope, 12, 2)
}

// TestSignalDerivatives compares gradient and second derivatives with finite differences, also far
// in the tail of a limit.
func TestSignalDerivatives(t *testing.T) {
	for _, limit := range []Limit{Measured, Below, Above} {
		for _, r := range []float64{-45, -31, -29, -4, -0.5, 0.7, 5, 29.5, 40} {
			const step = 1e-4
			_, first, second := loss(r, limit)
			up, firstUp, _ := loss(r+step, limit)
			down, firstDown, _ := loss(r-step, limit)
			check.Within(t, "first derivative", first, (up-down)/(2*step), 1e-5*(1+math.Abs(first)))
			check.Within(t, "second derivative", second, (firstUp-firstDown)/(2*step), 1e-2)
		}
	}
}

// TestSignalBound checks Delta for a line without limits against the textbook: the variance of a
// predicted mean of a regression, and τ²/(2n) for the deviation (closed forms). The other methods
// lie near for 400 readings.
func TestSignalBound(t *testing.T) {
	const n, decision = 400, -24.0
	readings := simulated(3, n, math.Inf(-1), math.Inf(1))
	line := check.Must(FitSignals(readings, nil))
	curve := check.Must(line.Curve(decision))
	mean, spread := 0.0, 0.0
	for _, r := range readings {
		mean += math.Log(r.Size) / n
	}
	for _, r := range readings {
		spread += math.Pow(math.Log(r.Size)-mean, 2)
	}
	const z90, z95 = 1.281551566, 1.644853627
	x90 := (decision - line.Intercept + z90*line.Deviation) / line.Slope
	variance := math.Pow(line.Deviation/line.Slope, 2) * (1.0/n + math.Pow(x90-mean, 2)/spread + z90*z90/(2*n))
	delta := check.Must(curve.Bound(0.9, 0.95, Delta))
	check.Within(t, "ln a90", math.Log(curve.Size(0.9)), x90, 1e-7)
	check.Within(t, "ln of the bound", math.Log(delta), x90+z95*math.Sqrt(variance), 1e-6)
	for _, method := range []Method{LikelihoodRatio, PointwiseWald} {
		check.Within(t, "bound over the bound by delta", check.Must(curve.Bound(0.9, 0.95, method))/delta, 1, 3e-3)
	}
}

func TestSignalErrors(t *testing.T) {
	flat := []Reading{{1, 1, Measured}, {2, 2, Measured}, {3, 3, Measured}}
	for _, c := range []struct {
		name     string
		readings []Reading
		options  *SignalOptions
		want     string
	}{
		{"two readings", flat[:2], nil, "too few data: 2 measured"},
		{"limits only", []Reading{{1, 1, Below}, {2, 1, Below}, {3, 1, Below}}, nil, "too few data: 0 measured"},
		{"one size", []Reading{{1, 1, Measured}, {1, 2, Measured}, {1, 3, Measured}}, nil, "2 sizes"},
		{"no scatter", flat, &SignalOptions{Linear: true}, "no scatter"},
		{"size 0", []Reading{{0, 1, Measured}}, nil, "size 0 at index 0"},
		{"no signal", []Reading{{1, math.NaN(), Measured}}, nil, "signal NaN"},
		{"limit", []Reading{{1, 1, 3}}, nil, "limit 3"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := FitSignals(c.readings, c.options)
			check.Error(t, err, c.want)
		})
	}
	_, err := (&Response{Slope: 1, Deviation: 1}).Curve(math.Inf(1))
	check.Error(t, err, "decision level")
	_, err = (&Response{Slope: 1}).Curve(1)
	check.Error(t, err, "deviation 0")
}
