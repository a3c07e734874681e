// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"

	"github.com/isochron-imaging/isochron/fmc"
)

// pulse is the echo of a plane reflector: a carrier under a Gaussian envelope whose centre is at
// time 0. The package documentation gives its formula.
type pulse struct {
	centre    float64 // centre frequency in Hz
	deviation float64 // standard deviation σ of the spectrum in Hz
}

// newPulse returns the pulse of a valid array.
func newPulse(a fmc.Array) pulse {
	return pulse{
		centre:    a.CentreFrequency,
		deviation: a.SpectralDeviation(),
	}
}

// spectrum returns the real spectrum at a frequency above 0 in Hz, relative to the spectrum at the
// centre frequency.
func (p pulse) spectrum(frequency float64) float64 {
	a := (frequency - p.centre) / p.deviation
	return math.Exp(-a * a / 2)
}

// negligible is a fraction of the peak. The pulse and its spectrum count as 0 below this fraction,
// which is less than the resolution of 16 bits.
const negligible = 1e-5

// reach returns the largest distance from the centre at which the pulse, in s, and its spectrum, in
// Hz, are not negligible.
func (p pulse) reach() (time, frequency float64) {
	standard := math.Sqrt(-2 * math.Log(negligible))
	return standard / (2 * math.Pi * p.deviation), standard * p.deviation
}
