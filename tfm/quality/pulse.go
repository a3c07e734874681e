// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality

import (
	"fmt"
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm"
)

// finer is the number of steps of the table of a pulse in a sample. The linear interpolation loses
// at most (2π·f·step)²/8 of the amplitude: 0.0003 at 8 samples a period.
const finer = 16

// pulse is the analytic signal of an echo after the filter of an image, in a table.
type pulse struct {
	values []complex128 // at the times (k - middle)·step
	middle float64
	rate   float64 // 1/step, Hz
}

// newPulse returns the echo of a plane reflector, a carrier of the centre frequency under a
// Gaussian envelope, after the filter of a pass band. Its peak is 1.
func newPulse(a fmc.Array, sampleRate float64, band tfm.Band) (*pulse, error) {
	if band == (tfm.Band{}) {
		band = tfm.DefaultBand(a.CentreFrequency, a.Bandwidth, sampleRate)
	}
	if _, err := tfm.NewAnalytic(1, sampleRate, band); err != nil { // before the band is used
		return nil, err
	}
	const negligible = 4.8 // standard deviations of a Gaussian of 1e-5 of its peak
	sigma := math.Sqrt(2*math.Ln2) / (math.Pi * a.Bandwidth * a.CentreFrequency)
	half := int(math.Ceil(negligible*sigma*sampleRate)) + filterReach(band, sampleRate)
	if half > maxReach {
		return nil, fmt.Errorf("quality: pulse of %d samples: want %d at most, so a larger bandwidth or a lower sample rate", 2*half+1, 2*maxReach+1)
	}
	filter, err := tfm.NewAnalytic(2*half+1, sampleRate, band)
	if err != nil {
		return nil, err
	}
	p := &pulse{values: make([]complex128, finer*(2*half+1)), middle: float64(finer * half), rate: finer * sampleRate}
	trace, signal := make([]float32, 2*half+1), make([]complex64, 2*half+1)
	for shift := range finer {
		for i := range trace {
			t := (float64(i-half) + float64(shift)/finer) / sampleRate
			trace[i] = float32(math.Exp(-t*t/(2*sigma*sigma)) * math.Cos(2*math.Pi*a.CentreFrequency*t))
		}
		if err := filter.Transform(signal, trace); err != nil {
			return nil, err
		}
		for i, v := range signal {
			p.values[i*finer+shift] = complex128(v)
		}
	}
	peak := 0.0
	for _, v := range p.values {
		peak = max(peak, cmplx.Abs(v))
	}
	for i := range p.values {
		p.values[i] /= complex(peak, 0)
	}
	return p, nil
}

// maxReach bounds the half-length of a pulse in samples.
const maxReach = 1 << 17

// filterReach returns how far in samples the filter of a band spreads a pulse. Beyond a few times
// the inverse of the bandwidth the response of the filter is negligible.
func filterReach(band tfm.Band, sampleRate float64) int {
	const times = 4
	return int(math.Ceil(min(times*sampleRate/(band.High-band.Low), maxReach)))
}

// at returns the pulse at a time in s.
func (p *pulse) at(t float64) complex128 {
	x := t*p.rate + p.middle
	i := int(x)
	if !(x >= 0) || i+1 >= len(p.values) {
		return 0
	}
	u := x - float64(i)
	a, b := p.values[i], p.values[i+1]
	return complex(real(a)+u*(real(b)-real(a)), imag(a)+u*(imag(b)-imag(a)))
}
