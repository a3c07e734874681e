// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/fmc"
)

// pulse is the Gaussian pulse of an array, in the form of package fmc/synth:
//
//	g(t) = exp(-2π²σ²t²)·exp(2πi·f·t),   σ = b·f/√(8·ln 2)
//
// with the centre frequency f and the -6 dB bandwidth b.
type pulse struct {
	half   float64     // the time after which the envelope has fallen to half, s
	rate   float64     // of values, 1/s
	values []complex64 // the middle one at the centre
}

// pulseSteps is the number of values in half a duration of a pulse. The values are so close that
// the nearest one has a phase error below 0.02 rad for bandwidths above 10 %.
const (
	pulseSteps = 1000
	pulseEnd   = 4 // of values in half durations; the envelope is 2^-16 there
)

// halfDuration returns the time after which the envelope of the pulse of an array has fallen to
// half, in s. The spectrum of the pulse has the -6 dB bandwidth of the array.
func halfDuration(a fmc.Array) float64 {
	return math.Sqrt(2*math.Ln2) / (2 * math.Pi * a.SpectralDeviation())
}

// newPulse returns the pulse of an array.
func newPulse(a fmc.Array) pulse {
	half := halfDuration(a)
	p := pulse{half: half, rate: pulseSteps / half}
	for k := -pulseSteps * pulseEnd; k <= pulseSteps*pulseEnd; k++ {
		t := float64(k) * half / pulseSteps
		envelope := math.Exp2(-t * t / (half * half))
		p.values = append(p.values, complex64(cmplx.Rect(envelope, 2*math.Pi*a.CentreFrequency*t)))
	}
	return p
}

// at returns the value of the pulse at a time in s. It is 0 far from the centre, and for NaN.
func (p *pulse) at(t float64) complex64 {
	k := t*p.rate + pulseSteps*pulseEnd + 0.5
	if !(k >= 0 && k < float64(len(p.values))) {
		return 0
	}
	return p.values[int(k)]
}

// end returns a time in s after which the pulse is 0.
func (p *pulse) end() float64 { return (pulseSteps*pulseEnd + 1) / p.rate }

// visible returns for how long before and after its centre a pulse is seen beside an indication, in
// s. The level of the pulse is a multiple of the level of the indication. The pulse ends where its
// envelope is 6 dB below the indication. An echo that is stronger than the indication shows for
// longer.
func (p *pulse) visible(multiple float64) float64 {
	return p.half * math.Sqrt(1+math.Log2(max(1, multiple)))
}
