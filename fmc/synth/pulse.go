// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
)

// Pulse is a carrier under a Gaussian envelope whose centre is at time 0, what
// the echo of a plane reflector looks like. In analytic form, with the standard
// deviation σ of its spectrum,
//
//	exp(-2π²σ²t²)·exp(2πift),   σ = Bandwidth·f/√(8·ln 2)
type Pulse struct {
	CentreFrequency float64 // f in Hz, finite and above 0
	Bandwidth       float64 // of the echo at half the amplitude (-6 dB), as a fraction of f, above 0 and below 2
}

// PulseOf returns the pulse of an array.
func PulseOf(a fmc.Array) Pulse {
	return Pulse{CentreFrequency: a.CentreFrequency, Bandwidth: a.Bandwidth}
}

// Validate reports the first field out of its range.
func (p Pulse) Validate() error {
	if !positive(p.CentreFrequency) {
		return fmt.Errorf("synth: centre frequency %v Hz: want a finite value above 0", p.CentreFrequency)
	}
	if !(p.Bandwidth > 0 && p.Bandwidth < 2) {
		return fmt.Errorf("synth: bandwidth %v of the centre frequency: want above 0 and below 2", p.Bandwidth)
	}
	return nil
}

// deviation returns σ in Hz.
func (p Pulse) deviation() float64 {
	return p.Bandwidth * p.CentreFrequency / math.Sqrt(8*math.Ln2)
}

// At returns the pulse at time t in s: 1 at its centre.
func (p Pulse) At(t float64) float64 {
	a := math.Pi * p.deviation() * t
	return math.Exp(-2*a*a) * math.Cos(2*math.Pi*p.CentreFrequency*t)
}

// Spectrum returns the spectrum at a frequency in Hz, relative to that at the
// centre frequency: it is real. A trace takes it from frequencies above 0 alone.
func (p Pulse) Spectrum(frequency float64) float64 {
	if !(frequency > 0) {
		return 0
	}
	a := (frequency - p.CentreFrequency) / p.deviation()
	return math.Exp(-a * a / 2)
}

// faint is the share of its peak below which pulse and spectrum are taken as 0:
// below what 16 bits resolve.
const faint = 1e-5

// reach returns how far from its centre the pulse is not faint, in s, and
// its spectrum, in Hz.
func (p Pulse) reach() (time, frequency float64) {
	standard := math.Sqrt(-2 * math.Log(faint))
	return standard / (2 * math.Pi * p.deviation()), standard * p.deviation()
}

func positive(v float64) bool { return v > 0 && !math.IsInf(v, 1) }

func finite(v float64) bool { return v-v == 0 }
