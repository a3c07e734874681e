// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestTrials compares with the binomial distribution: 0.9^29 = 0.0471 is public (29 of 29 is the
// best known demonstration of 90 % with 95 %), the other numbers follow from the closed form.
func TestTrials(t *testing.T) {
	for _, c := range []struct {
		pod, confidence float64
		misses, want    int
	}{
		{0.9, 0.95, 0, 29}, {0.9, 0.95, 1, 46}, {0.9, 0.95, 2, 61}, {0.9, 0.95, 3, 76}, {0.9, 0.95, 4, 89}, {0.9, 0.95, 5, 103},
		{0.95, 0.95, 0, 59}, {0.9, 0.9, 0, 22}, {0.99, 0.95, 0, 299}, {0.9, 0.99, 0, 44},
		{0.01, 0.5, 0, 1},
	} {
		if got := check.Must(Trials(c.pod, c.confidence, c.misses)); got != c.want {
			t.Errorf("%v with %v, %d missed: %d flaws, want %d", c.pod, c.confidence, c.misses, got, c.want)
		}
	}
	check.Within(t, "29 of 29", tail(29, 29, 0.9), math.Pow(0.9, 29), 1e-15)
	for misses, want := range []float64{0.0471013, 0.048004, 0.049118, 0.046973, 0.049698, 0.047949} { // binomial sums, independent
		n := []int{29, 46, 61, 76, 89, 103}[misses]
		check.Within(t, "tail", tail(n-misses, n, 0.9), want, 5.1e-7)
	}
}

func TestLowerBound(t *testing.T) {
	for _, c := range []struct {
		hits, trials int
		want         float64
	}{ // independent calculation of the beta quantile
		{29, 29, 0.901855372}, {28, 29, 0.846607975}, {45, 46, 0.900975683}, {57, 60, 0.875812790},
		{0, 5, 0},
		{5, 5, math.Pow(0.05, 0.2)}, // closed form
	} {
		check.Within(t, "bound", check.Must(LowerBound(c.hits, c.trials, 0.95)), c.want, 1e-9)
	}
}

// TestLowerBoundCoverage sums the binomial distribution: for each true probability, the bound is
// at most that probability in 95 % of the trials or more. Exact, no random numbers.
func TestLowerBoundCoverage(t *testing.T) {
	const n = 30
	least := 1.0
	for p := 0.5; p < 0.999; p += 0.007 {
		covered := 0.0
		for hits := range n + 1 {
			if check.Must(LowerBound(hits, n, 0.95)) <= p {
				covered += distuv.Binomial{N: n, P: p}.Prob(float64(hits))
			}
		}
		if !(covered >= 0.95-1e-9) {
			t.Errorf("probability %v: the bound holds in %v of the trials", p, covered)
		}
		least = min(least, covered)
	}
	if !(least < 0.96) {
		t.Errorf("the bound holds in at least %v of the trials: it is too low everywhere", least)
	}
}

// TestFalseCallRate has an independent value, the normal distribution at 3.667 deviations.
func TestFalseCallRate(t *testing.T) {
	check.Within(t, "rate", check.Must(FalseCallRate(0.4, 0.3, 1.5)), 1.228664e-4, 5e-11)
}

func TestDemonstrationErrors(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name string
		call func() error
		want string
	}{
		{"probability 1", func() error { _, err := Trials(1, 0.95, 0); return err }, "probability of detection 1"},
		{"no confidence", func() error { _, err := Trials(0.9, nan, 0); return err }, "confidence NaN"},
		{"negative misses", func() error { _, err := Trials(0.9, 0.95, -1); return err }, "-1 misses"},
		{"too demanding", func() error { _, err := Trials(1-1e-9, 0.95, 0); return err }, "a million"},
		{"no trials", func() error { _, err := LowerBound(0, 0, 0.95); return err }, "0 trials"},
		{"more hits than trials", func() error { _, err := LowerBound(3, 2, 0.95); return err }, "3 hits: want 0 to 2"},
		{"confidence 0", func() error { _, err := LowerBound(1, 2, 0); return err }, "confidence 0"},
		{"no mean", func() error { _, err := FalseCallRate(nan, 1, 1); return err }, "mean NaN"},
		{"no deviation", func() error { _, err := FalseCallRate(0, 0, 1); return err }, "standard deviation 0"},
	} {
		t.Run(c.name, func(t *testing.T) { check.Error(t, c.call(), c.want) })
	}
}
