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
	rate   float64      // 1/step, Hz
	base   []complex128 // values·exp(-i·omega·t): the pulse without its carrier
	omega  float64      // of the carrier, rad/s
	step   float64      // for differences of base, s
	filter *pulse       // the response of the filter to an impulse, of any scale; nil in a filter
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
	sigma := 1 / (2 * math.Pi * a.SpectralDeviation())
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
	if p.filter, err = newFilter(half, sampleRate, band); err != nil {
		return nil, err
	}
	peak := 0.0
	for _, v := range p.values {
		peak = max(peak, cmplx.Abs(v))
	}
	for i := range p.values {
		p.values[i] /= complex(peak, 0)
	}
	p.omega = 2 * math.Pi * a.CentreFrequency
	p.base = make([]complex128, len(p.values))
	for i, v := range p.values {
		p.base[i] = v * cmplx.Rect(1, -p.omega*(float64(i)-p.middle)/p.rate)
	}
	p.step = sigma / 8 // the second difference is 0.4 % too small
	return p, nil
}

// newFilter returns the response of the filter of an image to an impulse, half samples long on
// either side.
func newFilter(half int, sampleRate float64, band tfm.Band) (*pulse, error) {
	rate, middle := finer*sampleRate, finer*half
	filter, err := tfm.NewAnalytic(2*middle+1, rate, band)
	if err != nil {
		return nil, err
	}
	impulse, signal := make([]float32, 2*middle+1), make([]complex64, 2*middle+1)
	impulse[middle] = 1
	if err := filter.Transform(signal, impulse); err != nil {
		return nil, err
	}
	p := &pulse{values: make([]complex128, len(signal)), middle: float64(middle), rate: rate}
	for i, v := range signal {
		p.values[i] = complex128(v)
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
func (p *pulse) at(t float64) complex128 { return p.between(p.values, t) }

// expand returns the pulse at a time in s, and its first and second derivative over time.
func (p *pulse) expand(t float64) (v, first, second complex128) {
	b, before, after := p.between(p.base, t), p.between(p.base, t-p.step), p.between(p.base, t+p.step)
	d, dd := (after-before)/complex(2*p.step, 0), (after-2*b+before)/complex(p.step*p.step, 0)
	i := complex(0, p.omega)
	carrier := cmplx.Rect(1, p.omega*t)
	return b * carrier, (d + i*b) * carrier, (dd + 2*i*d + i*i*b) * carrier
}

// between returns the value of a table at a time in s.
func (p *pulse) between(values []complex128, t float64) complex128 {
	x := t*p.rate + p.middle
	if !(x >= 0 && x < float64(len(values)-1)) {
		return 0
	}
	i := int(x)
	u := x - float64(i)
	a, b := values[i], values[i+1]
	return complex(real(a)+u*(real(b)-real(a)), imag(a)+u*(imag(b)-imag(a)))
}
