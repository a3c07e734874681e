// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"

	"github.com/isochron-imaging/isochron/sizing"
)

// drops checks sizes by the drop of amplitude, levels and noise. The beam is 1 mm wide at 6 dB.
func drops() []check {
	const numeric = "mpmath, convolution of a strip with the beam"
	gauss := func() (sizing.Beam, error) { return sizing.GaussianBeam(1e-3) }
	sinc := func() (sizing.Beam, error) { return sizing.SincBeam(1e-3) }
	length := func(beam func() (sizing.Beam, error), of float64) func() (float64, error) {
		return func() (float64, error) {
			b, err := beam()
			return b.Measured(of*1e-3, sizing.SixDB) * 1e3, err
		}
	}
	edge := func(beam func() (sizing.Beam, error), drop float64) func() (float64, error) {
		return func() (float64, error) {
			b, err := beam()
			from, _ := b.Edge(drop)
			return from * 1e3, err
		}
	}
	return []check{
		{"6 dB length of a point, Gaussian beam", closedForm, "algebra, the width of the beam", "1", "mm", 1e-4, length(gauss, 0)},
		{"6 dB length of 1 mm, Gaussian beam", calculated, numeric, "1.2493707", "mm", 1e-6, length(gauss, 1)},
		{"6 dB length of 2 mm, Gaussian beam", calculated, numeric, "2.0197258", "mm", 1e-6, length(gauss, 2)},
		{"6 dB length of 10 mm, Gaussian beam", published, "textbooks, half amplitude over the edge", "10", "mm", 1e-3, length(gauss, 10)},
		{"6 dB length of 0.5 mm, beam of a full matrix", calculated, numeric, "1.0446588", "mm", 1e-6, length(sinc, 0.5)},
		{"6 dB length of 1 mm, beam of a full matrix", calculated, numeric, "1.2058777", "mm", 1e-6, length(sinc, 1)},
		{"edge of a long strip at 6 dB, Gaussian beam", closedForm, "algebra, even profile", "0", "mm", 1e-6, edge(gauss, sizing.SixDB)},
		{"edge of a long strip at 20 dB, Gaussian beam", closedForm, "algebra, normal quantile", "0.544225", "mm", 1e-6, edge(gauss, 20)},
		{"edge of a long strip at 14 dB, beam of a full matrix", calculated, numeric, "0.383561", "mm", 1e-5, edge(sinc, 14)},
		{"scatter of an edge, signal-to-noise 100, full matrix", closedForm, "algebra, λz/D over the ratio, λz/D = w/0.885893", "0.011288", "mm", 1e-4, func() (float64, error) {
			b, err := sinc()
			from, _ := b.EdgeSD(math.Inf(1), sizing.SixDB, 100, 0)
			return from * 1e3, err
		}},
		{"scatter of an edge by steps of 1 mm", closedForm, "GUM, 4.3.7: rectangular, 1/√12", "0.288675", "mm", 1e-5, func() (float64, error) {
			b, err := gauss()
			from, _ := b.EdgeSD(math.Inf(1), sizing.SixDB, 1e9, 1e-3)
			return from * 1e3, err
		}},
		{"level of 40 against 80 % of the screen", published, "textbooks, 6 dB", "-6.0206", "dB", 0, exactly(func() float64 { return sizing.LevelDB(0.4, 0.8) })},
		{"ratio of a drop of 14 dB", closedForm, "algebra, 10^(−14/20)", "0.199526", "", 0, exactly(func() float64 { return sizing.Ratio(-14) })},
		{"6 dB extent of a sampled Gaussian", closedForm, "algebra, 2·√(2·ln 2)·σ", "2.354820", "mm", 1e-3, sampledGaussian},
	}
}

// sampledGaussian returns the 6 dB extent in mm of a Gaussian with the standard deviation 1 mm
// that is sampled every 0.05 mm.
func sampledGaussian() (float64, error) {
	profile := make([]float64, 201)
	for i := range profile {
		x := (float64(i) - 100.3) * 0.05
		profile[i] = math.Exp(-x * x / 2)
	}
	e, err := sizing.Drop(profile, 0.05e-3, sizing.SixDB)
	return e.Length() * 1e3, err
}
