// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"math/cmplx"
	"math/rand/v2"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
)

// conditioning checks filters, gain, averages and sample rates.
func conditioning() []check {
	return []check{
		{"band-pass 3 to 9 MHz, gain at 3 MHz", closedForm, "Harris 1978, half amplitude at the edge", "-6.0206", "dB", 0.01, filter(3e6)},
		{"band-pass 3 to 9 MHz, gain at 6 MHz", closedForm, "Harris 1978, 1 in the band", "0", "dB", 0.005, filter(6e6)},
		{"band-pass 3 to 9 MHz, amplitude at 1 MHz", closedForm, "Harris 1978, Blackman window: at most −66 dB", "0", "", 5e-4, func() (float64, error) {
			v, err := filter(1e6)()
			return math.Pow(10, v/20), err
		}},
		{"gain for spreading in space, 4 to 16 µs", closedForm, "algebra, t/t₀", "4", "", 1e-5, gain(condition.Gain{Start: 4e-6, Spreading: 1}, 16e-6)},
		{"gain of 2 dB/µs from 2 to 12 µs", closedForm, "algebra, 20 dB", "10", "", 1e-5, gain(condition.Gain{Start: 2e-6, DecibelsPerSecond: 2e6}, 12e-6)},
		{"tone of 5 MHz at three halves of the sample rate, largest error", closedForm, "algebra, the same tone", "0", "", 1.2e-4, resampledTone},
		{"noise of the mean of 64 frames", closedForm, "algebra, 10·lg n", "-18.062", "dB", 0.2, averageNoise},
		{"matched filter, noise for a pulse of energy 9", closedForm, "Turin 1960, 1/√E", "0.333333", "", 0.01, matchedNoise},
	}
}

// blank returns a capture of one trace at 50 MHz that begins at a time in s.
func blank(samples int, first float64) (*fmc.Capture, error) {
	array, err := line(1)
	if err != nil {
		return nil, err
	}
	return fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(1), Samples: samples, SampleRate: 50e6, FirstSample: first})
}

// filter returns the response of a band-pass from 3 to 9 MHz in dB.
func filter(frequency float64) func() (float64, error) {
	return func() (float64, error) {
		c, err := blank(1000, 0)
		if err != nil {
			return 0, err
		}
		chain, err := condition.NewChain(c, condition.BandPass{Low: 3e6, High: 9e6, Transition: 1e6})
		if err != nil {
			return 0, err
		}
		return 20 * math.Log10(cmplx.Abs(chain.Response(frequency))), nil
	}
}

// gain returns the factor of a time-varied gain at a time in s.
func gain(g condition.Gain, at float64) func() (float64, error) {
	return func() (float64, error) {
		c, err := blank(1001, 0)
		if err != nil {
			return 0, err
		}
		for i := range c.Data {
			c.Data[i] = 1
		}
		chain, err := condition.NewChain(c, g)
		if err != nil {
			return 0, err
		}
		err = chain.Apply(c, c)
		return float64(c.Data[int(math.Round(at*c.SampleRate))]), err
	}
}

// resampledTone returns the largest error of a tone of 5 MHz in the middle of a record after a
// change of the sample rate from 50 to 75 MHz.
func resampledTone() (worst float64, err error) {
	c, err := blank(2000, 3e-6)
	if err != nil {
		return 0, err
	}
	tone := func(t float64) float64 { return math.Cos(2*math.Pi*5e6*t + 0.7) }
	for k := range c.Data {
		c.Data[k] = float32(tone(c.Time(k)))
	}
	r, err := condition.NewResampler(c, 3, 2)
	if err != nil {
		return 0, err
	}
	out, err := r.Resampled(c)
	if err != nil {
		return 0, err
	}
	for m := 100; m < out.Samples-100; m++ {
		worst = max(worst, math.Abs(float64(out.Data[m])-tone(out.Time(m))))
	}
	return worst, nil
}

// averageNoise returns the noise of a mean of 64 frames of white noise of 1, in dB.
func averageNoise() (float64, error) {
	c, err := blank(4000, 0)
	if err != nil {
		return 0, err
	}
	average, err := condition.NewAverage(c)
	if err != nil {
		return 0, err
	}
	random := rand.New(rand.NewPCG(1, 2))
	for range 64 {
		for i := range c.Data {
			c.Data[i] = float32(random.NormFloat64())
		}
		if err := average.Add(c); err != nil {
			return 0, err
		}
	}
	err = average.Mean(c)
	return 20 * math.Log10(rms(c.Data)), err
}

// matchedNoise returns the noise behind a matched filter for a pulse of nine samples of ±1.
func matchedNoise() (float64, error) {
	c, err := blank(20000, 0)
	if err != nil {
		return 0, err
	}
	random := rand.New(rand.NewPCG(3, 4))
	for i := range c.Data {
		c.Data[i] = float32(random.NormFloat64())
	}
	chain, err := condition.NewChain(c, condition.MatchedFilter{Pulse: []float32{1, 1, -1, 1, -1, -1, 1, -1, 1}})
	if err != nil {
		return 0, err
	}
	err = chain.Apply(c, c)
	return rms(c.Data), err
}

// rms returns the root mean square of samples.
func rms(samples []float32) float64 {
	sum := 0.0
	for _, v := range samples {
		sum += float64(v) * float64(v)
	}
	return math.Sqrt(sum / float64(len(samples)))
}
