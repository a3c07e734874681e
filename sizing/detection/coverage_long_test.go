// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package detection

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestCoverage simulates trials of 60 flaws with known curves, and counts how often the bound
// a90/95 is above the true size. A trial without a curve or without a finite bound counts as above:
// the error tells the user. The wanted rate is 0.95. The bounds of the table are about 3 standard
// deviations of the count around the rates that doc.go states.
func TestCoverage(t *testing.T) {
	const trials, flaws, decision = 1000, 60, -24.0
	truth := &Curve{Intercept: -1, Slope: 3}
	line := &Response{Intercept: -30, Slope: 12, Deviation: 3}
	random := rand.New(rand.NewPCG(7, 8))
	above := map[string]map[Method]int{"hits": {}, "signals": {}}
	for range trials {
		groups, readings := make([]Group, flaws), make([]Reading, flaws)
		for i := range flaws {
			size := math.Exp(-1 + 3*float64(i)/(flaws-1))
			groups[i] = Group{Size: size, Trials: 1}
			if random.Float64() < truth.At(size) {
				groups[i].Hits = 1
			}
			readings[i] = Reading{Size: size, Signal: line.Intercept + line.Slope*math.Log(size) + line.Deviation*random.NormFloat64()}
			if readings[i].Signal < -36 {
				readings[i].Signal, readings[i].Limit = -36, Below
			}
		}
		fromHits, err := FitHitMiss(groups, nil)
		count := func(kind string, c *Curve, err error, want float64) {
			for method := LikelihoodRatio; method <= PointwiseWald; method++ {
				bound := math.Inf(1)
				if err == nil {
					if b, err := c.Bound(0.9, 0.95, method); err == nil {
						bound = b
					}
				}
				if bound >= want {
					above[kind][method]++
				}
			}
		}
		count("hits", fromHits, err, truth.Size(0.9))
		fit, err := FitSignals(readings, nil)
		if err != nil {
			t.Fatal(err)
		}
		fromSignals, err := fit.Curve(decision)
		count("signals", fromSignals, err, math.Exp((decision-line.Intercept+1.281551566*line.Deviation)/line.Slope))
	}
	for _, c := range []struct {
		kind      string
		method    Method
		low, high float64
	}{
		{"hits", LikelihoodRatio, 0.89, 0.95}, {"hits", Delta, 0.83, 0.90}, {"hits", PointwiseWald, 0.95, 0.99},
		{"signals", LikelihoodRatio, 0.92, 0.97}, {"signals", Delta, 0.89, 0.95}, {"signals", PointwiseWald, 0.92, 0.97},
	} {
		rate := float64(above[c.kind][c.method]) / trials
		t.Logf("%s, method %d: %.3f", c.kind, c.method, rate)
		if !(rate >= c.low && rate <= c.high) {
			t.Errorf("%s, method %d: the bound holds in %.3f of the trials, want %v to %v", c.kind, c.method, rate, c.low, c.high)
		}
	}
}
