// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestCoverage reads walls of random thickness from A-scans with noise. The true speed, the true
// delay and the true wall differ from what the reader is told, by draws from the stated
// uncertainties. No limit is tuned: the factors follow from the normal distribution.
func TestCoverage(t *testing.T) {
	trials := 240
	if testing.Short() {
		trials = 150
	}
	for i, c := range []struct {
		name   string
		method Method
		flank  *Flank
		noise  float64 // of the first echo
		errors Errors
	}{
		{"first echo", FirstEcho, nil, 0.03, Errors{Speed: 10, Delay: 4e-9}},
		{"first echo, noise only", FirstEcho, nil, 0.05, Errors{}},
		{"from interface", FromInterface, nil, 0.03, Errors{Speed: 10}},
		{"echo to echo", EchoToEcho, nil, 0.02, Errors{Speed: 5}},
		{"echo to echo, rough wall", EchoToEcho, nil, 0.02, Errors{Speed: 5, Wall: 0.02 * mm}},
		{"echo to echo, flank of the envelope", EchoToEcho, &Flank{Share: 0.5}, 0.02, Errors{}},
		{"echo to echo, half-wave", EchoToEcho, &Flank{0.4, 1}, 0.01, Errors{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(uint64(i), 1))
			r := plain()
			r.Method, r.Flank, r.Errors, r.Interface = c.method, c.flank, c.errors, 0.5e-6
			r.Threshold = -12 // above the noise, below the second echo
			bias, held, counted, square, noise := 0.0, 0, 0, 0.0, 0.0
			for range trials {
				truth := (4 + 5*random.Float64()) * mm
				local := truth + c.errors.Wall*random.NormFloat64()
				c0 := speed + c.errors.Speed*random.NormFloat64()
				late := c.errors.Delay * random.NormFloat64()
				trace := traced(rung{late, -1}, rung{2*local/c0 + late, 1}, rung{4*local/c0 + late, 0.5})
				noisy(trace, c.noise, random)
				x := check.Must(r.Read(trace))
				if x.State != Measured {
					continue
				}
				counted++
				bias += (x.Thickness - truth) / float64(trials)
				square += (x.Thickness - truth) * (x.Thickness - truth)
				noise += x.Noise * x.Noise
				if check.Must(r.Budget(x)).Result(0.95).Holds(truth) {
					held++
				}
			}
			share := float64(held) / float64(counted)
			t.Logf("%d of %d read, bias %.4f mm, %.1f %% within the interval of 95 %%", counted, trials, bias/mm, 100*share)
			if counted < trials*98/100 {
				t.Errorf("%d of %d A-scans read", counted, trials)
			}
			check.Within(t, "bias in mm", bias/mm, 0, 0.02)
			if c.errors == (Errors{}) { // noise alone
				ratio := math.Sqrt(noise / square)
				t.Logf("stated noise over scatter %.2f", ratio)
				check.Within(t, "stated noise over scatter", ratio, 1.08, 0.2)
			}
			// Three standard deviations of the share. The noise is estimated with the tails of the
			// echoes in it, so that the intervals are a little too long: 4000 trials of each row
			// held 96.0 to 97.2 %.
			const tails = 0.011
			check.Within(t, "share within the interval", share, 0.95+tails, tails+3*math.Sqrt(0.95*0.05/float64(counted)))
		})
	}
}

// TestBudget checks the combined uncertainty of a reading against its list, worked by hand.
func TestBudget(t *testing.T) {
	r := plain()
	r.Errors = Errors{Speed: 30, Delay: 10e-9, Wall: 0.02 * mm, Method: 0.01 * mm}
	x := check.Must(r.Read(traced(at(10, 1))))
	b := check.Must(r.Budget(x))
	// 10 mm · 30/5920 = 0.0507 mm; 5920/2 · 10 ns = 0.0296 mm; 0.02 mm; 0.01 mm.
	want := math.Sqrt(0.0506757*0.0506757 + 0.0296*0.0296 + 0.02*0.02 + 0.01*0.01)
	check.Within(t, "combined in mm", b.Uncertainty/mm, want, 1e-4)
	check.Within(t, "of the reading", x.Uncertainty, b.Uncertainty, 1e-15)
	if len(b.Contributions) != 5 {
		t.Errorf("%d contributions, want 5: %v", len(b.Contributions), b)
	}
	r.Method, r.Fallback = EchoToEcho, true
	x = check.Must(r.Read(traced(at(10, 1), at(20, 0.5))))
	if b := check.Must(r.Budget(x)); len(b.Contributions) != 4 {
		t.Errorf("time zero in the budget of echo to echo: %v", b)
	}
}
