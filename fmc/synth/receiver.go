// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"github.com/isochron-imaging/isochron/fmc"
)

// Receiver is what an instrument does to a capture. The zero value does nothing.
type Receiver struct {
	// Jitter is the standard deviation of the time by which all traces of a
	// transmission are late, in s, finite, at least 0 and at most the length of
	// the record.
	Jitter float64
	// Dead elements neither send nor receive; each in 0 … N-1. Their traces hold
	// noise only. A capture of events can have none.
	Dead []int
	// Noise is the standard deviation of white Gaussian noise, as a fraction of the
	// largest sample of the capture; finite and at least 0.
	Noise float64
	// Bits are those of the digitiser, 2 to 24, whose range is ±FullScale, a
	// fraction of the largest sample, finite and above 0; 0 stands for 1. Samples
	// become whole numbers from -2^(Bits-1) to 2^(Bits-1) - 1, those outside the
	// range are clipped. Bits of 0 leave samples as they are. Where all samples are
	// 0 so are noise and numbers.
	Bits      int
	FullScale float64
	Seed      uint64 // of the random numbers: the same seed gives the same capture
}

// Validate reports the first field that is out of range for a capture.
func (r Receiver) Validate(c *fmc.Capture) error {
	if c == nil {
		return errors.New("synth: no capture, nil: want one")
	}
	n := len(c.Array.Elements)
	if limit := float64(c.Samples) / c.SampleRate; !(r.Jitter >= 0 && r.Jitter <= limit) {
		return fmt.Errorf("synth: jitter %v s: want 0 to the length of the record, %.6g s", r.Jitter, limit)
	}
	if len(r.Dead) > 0 && c.Events != nil {
		return fmt.Errorf("synth: dead elements: %w: want none, or a capture of single elements to encode afterwards", fmc.ErrEvents)
	}
	for i, e := range r.Dead {
		if e < 0 || e >= n {
			return fmt.Errorf("synth: dead element %d of the list, %d: want 0 to %d", i, e, n-1)
		}
	}
	if !(r.Noise >= 0) || !finite(r.Noise) {
		return fmt.Errorf("synth: noise %v of the largest sample: want a finite value of 0 or above", r.Noise)
	}
	if r.Bits != 0 && (r.Bits < 2 || r.Bits > 24) {
		return fmt.Errorf("synth: %d bits: want 2 to 24, or 0 for none", r.Bits)
	}
	if r.FullScale != 0 && !positive(r.FullScale) {
		return fmt.Errorf("synth: full scale %v of the largest sample: want a finite value above 0, or 0 for 1", r.FullScale)
	}
	return nil
}

// Record returns the capture as r takes it: late, deaf, noisy and in whole
// numbers, in that order. Array, Events and Pairs are shared, c is left as it is.
// The random numbers of a trace depend on Seed and its pair only.
func (r Receiver) Record(c *fmc.Capture) (*fmc.Capture, error) {
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("synth: %w", err)
	}
	if err := r.Validate(c); err != nil {
		return nil, err
	}
	out := *c
	out.Data = slices.Clone(c.Data)
	largest := 0.0
	for _, v := range c.Data {
		largest = max(largest, math.Abs(float64(v)))
	}
	if r.Jitter > 0 {
		r.delay(&out)
	}
	for pair, trace := range out.Traces() {
		if slices.Contains(r.Dead, pair.Tx) || slices.Contains(r.Dead, pair.Rx) {
			clear(trace)
		}
		random := r.random(pair.Tx, pair.Rx)
		for k, v := range trace {
			trace[k] = r.convert(float64(v)+r.Noise*largest*random.NormFloat64(), largest)
		}
	}
	if err := out.CheckSamples(); err != nil {
		return nil, fmt.Errorf("synth: noise beyond float32: %w", err)
	}
	return &out, nil
}

// random returns the generator of a pair, or of a transmitter alone for -1.
func (r Receiver) random(tx, rx int) *rand.Rand {
	return rand.New(rand.NewPCG(r.Seed, uint64(tx)<<32|uint64(uint32(rx))))
}

// convert returns a sample as the digitiser gives it.
func (r Receiver) convert(v, largest float64) float32 {
	if r.Bits == 0 || largest == 0 {
		return float32(v)
	}
	scale := largest
	if r.FullScale > 0 {
		scale *= r.FullScale
	}
	limit := math.Ldexp(1, r.Bits-1)
	// The largest sample is above 0: a range that underflows clips all.
	v /= max(scale, math.SmallestNonzeroFloat64)
	return float32(max(-limit, min(limit-1, math.RoundToEven(v*limit))))
}

// delay shifts the traces of each transmission by a random time, between
// samples by the shift theorem. What lies before the record is taken as 0.
func (r Receiver) delay(c *fmc.Capture) {
	const most = 6 // deviations, beyond any random number that comes
	padding := int(math.Ceil(most * r.Jitter * c.SampleRate))
	transform := fourier.NewFFT(smooth(c.Samples + padding + 1))
	signal := make([]float64, transform.Len())
	bins := make([]complex128, transform.Len()/2+1)
	for pair, trace := range c.Traces() {
		late := r.Jitter * max(-most, min(most, r.random(pair.Tx, -1).NormFloat64()))
		clear(signal)
		for k, v := range trace {
			signal[k] = float64(v)
		}
		transform.Coefficients(bins, signal)
		for k := range bins {
			bins[k] *= cmplx.Rect(1/float64(len(signal)), -2*math.Pi*transform.Freq(k)*late*c.SampleRate)
		}
		transform.Sequence(signal, bins)
		for k := range trace {
			trace[k] = float32(signal[k])
		}
	}
}
