// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"math/cmplx"
	"math/rand/v2"

	"github.com/isochron-imaging/isochron/tfm"
)

// coherences checks the measures of coherence.
func coherences() []check {
	real := []complex128{3, -1, 2, 4, 0.5, -2, 1, 3}
	vectors := []complex128{1 + 0.2i, 0.8 - 0.3i, 0.9 + 0.5i, 1.1, -0.2 + 0.4i, 0.7 - 0.6i, 1.2 + 0.1i, 0.6 + 0.9i}
	of := func(m tfm.Coherence, channels []complex128) func() (float64, error) {
		return exactly(func() float64 { return m.Of(channels, 1) })
	}
	signs := func(positive int) []complex128 { // of 64 channels
		c := make([]complex128, 64)
		for i := range c {
			if c[i] = 1; i >= positive {
				c[i] = -1
			}
		}
		return c
	}
	fan := make([]complex128, 20000) // phases spread evenly over ±90°
	for i := range fan {
		fan[i] = cmplx.Rect(1, math.Pi*((float64(i)+0.5)/float64(len(fan))-0.5))
	}
	point := func(m tfm.Coherence, full bool) func() (float64, error) { return of(m, pointChannels(0.25, full)) }
	return []check{
		{"coherence factor of eight real channels", calculated, "NumPy, formula of Mallart 1994", "0.3114406779661", "", 1e-12, of(tfm.CoherenceFactor, real)},
		{"sign coherence of eight real channels", closedForm, "Camacho 2009, 1 − √(1 − m²), from memory", "0.1339745962156", "", 1e-12, of(tfm.SignCoherence, real)},
		{"phase coherence of eight complex channels", calculated, "NumPy, formula of Camacho 2009", "0.5597121080686", "", 1e-12, of(tfm.PhaseCoherence, vectors)},
		{"circular coherence of eight complex channels", calculated, "NumPy, formula of Camacho 2009", "0.3175178288284", "", 1e-12, of(tfm.CircularCoherence, vectors)},
		{"sign coherence, 48 of 64 positive", closedForm, "Camacho 2009, 1 − √(1 − m²), from memory", "0.1339745962", "", 0, of(tfm.SignCoherence, signs(48))},
		{"phase coherence of phases over ±90°", closedForm, "Camacho 2009, 1 − σ/σ₀, from memory", "0.5", "", 1e-6, of(tfm.PhaseCoherence, fan)},
		{"factor beside a point, full matrix, u = 1/4", closedForm, "algebra, sinc⁴ u", "0.657023", "", 5e-4, point(tfm.CoherenceFactor, true)},
		{"phase coherence beside a point, aperture, u = 1/4", closedForm, "algebra, 1 − |u|", "0.75", "", 2e-4, point(tfm.PhaseCoherence, false)},
		{"phase coherence beside a point, full matrix, u = 1/4", calculated, "NumPy, 64 elements", "0.646490", "", 1e-6, point(tfm.PhaseCoherence, true)},
		{"factor of noise, 64 channels, mean", closedForm, "algebra, 1/M", "0.015625", "", 3e-4, noiseCoherence(tfm.CoherenceFactor)},
		{"sign coherence of noise, 64 channels, mean", closedForm, "algebra, sum over the binomial distribution", "0.00790682", "", 3e-4, noiseCoherence(tfm.SignCoherence)},
		{"vector coherence of noise, 64 channels, mean", closedForm, "algebra, √(π/4M)", "0.110778", "", 1e-3, noiseCoherence(tfm.VectorCoherence)},
	}
}

// pointChannels returns the channels of 64 elements at a pixel beside a point, at the lateral
// place u in units of λz/D: of the full matrix, or of a focus in reception only.
func pointChannels(u float64, full bool) []complex128 {
	const n = 64
	phase := func(i int) float64 { return 2 * math.Pi * u * ((float64(i)+0.5)/n - 0.5) }
	var all []complex128
	for i := range n {
		if !full {
			all = append(all, cmplx.Rect(1, phase(i)))
			continue
		}
		for k := range n {
			all = append(all, cmplx.Rect(1, phase(i)+phase(k)))
		}
	}
	return all
}

// noiseCoherence returns the mean of a measure over 20,000 sets of 64 channels of complex noise.
func noiseCoherence(m tfm.Coherence) func() (float64, error) {
	return func() (float64, error) {
		const trials = 20000
		random := rand.New(rand.NewPCG(64, uint64(m)))
		sum, channels := 0.0, make([]complex128, 64)
		for range trials {
			for i := range channels {
				channels[i] = complex(random.NormFloat64(), random.NormFloat64())
				if m == tfm.SignCoherence {
					channels[i] = complex(random.NormFloat64(), 0)
				}
			}
			sum += m.Of(channels, 1)
		}
		return sum / trials, nil
	}
}
