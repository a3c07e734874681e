// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestDelayErrors compares with the closed form of the amplitude of a point if each element sends
// and receives at a wrong time. With a Gaussian phase of the standard deviation σ (rad) of each
// element, the mean amplitude of N elements is
//
//	exp(-σ²)·(1 - 1/N) + exp(-2σ²)/N,
//
// because an element's own echo has its error twice. It is -2.20154 dB for 64 elements and 0.5 rad.
// An error of a period over 18.518 costs 1 dB, of a period over 13.094 costs 2 dB, for many
// elements.
func TestDelayErrors(t *testing.T) {
	const n, trials = 64, 16
	c := randomCapture(210, n, 120, fmc.HalfPairs(n))
	g := check.Must(NewSection(0, 0, 30e-3, 30e-3, 0.1e-3))
	c.FirstSample = 9.5e-6
	tx := contact(c.Array, g.Points(), 5920)
	plan := check.Must(NewPlan(c, g, tx, tx, nil))
	rng := rand.New(rand.NewPCG(64, 1))
	cosine, sine := make([]float32, len(c.Data)), make([]float32, len(c.Data)) // of a long pulse, so that only the phase counts
	for i, pair := range c.Pairs {
		arrival := float64(tx.Seconds[pair.Tx]) + float64(tx.Seconds[pair.Rx])
		for k := range c.Samples {
			s := c.Time(k) - arrival
			sin, cos := math.Sincos(2 * math.Pi * 5e6 * s)
			envelope := math.Exp(-s * s * 2e12)
			cosine[i*c.Samples+k], sine[i*c.Samples+k] = float32(envelope*cos), float32(envelope*sin)
		}
	}
	image := func(phases []float64) complex128 {
		for i, pair := range c.Pairs {
			sin, cos := math.Sincos(phases[pair.Tx] + phases[pair.Rx])
			for k := i * c.Samples; k < (i+1)*c.Samples; k++ {
				c.Data[k] = float32(cos)*cosine[k] - float32(sin)*sine[k]
			}
		}
		return complex128(check.Must(plan.Image(background, c)).Data[0])
	}
	phases := make([]float64, n)
	right := image(phases)
	for _, test := range []struct {
		name            string
		deviation, want float64 // rad, dB
		within          float64 // about five standard errors
	}{
		{"0.5 rad", 0.5, -2.20154, 0.27},
		{"a period over 18.518", 2 * math.Pi / 18.518, -1.01474, 0.12},
		{"a period over 13.094", 2 * math.Pi / 13.094, -2.02796, 0.23},
	} {
		if testing.Short() && test.deviation != 0.5 {
			continue
		}
		mean := 0.0
		for range trials {
			for i := range phases {
				phases[i] = test.deviation * rng.NormFloat64()
			}
			mean += real(image(phases)/right) / trials
		}
		check.Within(t, test.name+": amplitude, dB", 20*math.Log10(mean), test.want, test.within)
	}
}
