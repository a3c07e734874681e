// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// Receiver holds the faults that an instrument adds to a capture. The zero value adds none.
type Receiver struct {
	// Jitter is the standard deviation of the delay of a transmission, in s: 0 to the length of the
	// record. All traces of a transmission have the same delay.
	Jitter float64
	// Dead elements neither send nor receive. Each is an index from 0 to N-1, for N elements. Their
	// traces contain only noise. A capture of events can have no dead elements.
	Dead []int
	// Noise is the standard deviation of white Gaussian noise, as a fraction of the largest sample
	// of the capture: finite, at least 0. If all samples are 0, the noise is 0.
	Noise float64
	// Bits is the number of bits of the digitiser, 2 to 24. Samples become whole numbers from
	// -2^(Bits-1) to 2^(Bits-1) - 1, and are clipped at both ends. 0 stands for no digitiser.
	Bits int
	// FullScale is the range of the digitiser, as a fraction of the largest sample: finite, above
	// 0. Samples between -FullScale and +FullScale are not clipped. 0 stands for 1.
	FullScale float64
	Seed      uint64 // of the random numbers: the same seed gives the same capture
}

// validate reports the first field that is out of range for a capture.
func (r Receiver) validate(c *fmc.Capture) error {
	n := len(c.Array.Elements)
	if limit := float64(c.Samples) / c.SampleRate; !(r.Jitter >= 0 && r.Jitter <= limit) {
		return fmt.Errorf("synth: jitter %v s: want 0 to the length of the record, %.6g s",
			r.Jitter, limit)
	}
	if len(r.Dead) > 0 && c.Events != nil {
		return fmt.Errorf("synth: dead elements: %w: want none, or a capture of single elements "+
			"to encode afterwards", fmc.ErrEvents)
	}
	for i, e := range r.Dead {
		if e < 0 || e >= n {
			return fmt.Errorf("synth: dead element %d of the list, %d: want 0 to %d", i, e, n-1)
		}
	}
	if !(r.Noise >= 0) || !number.Finite(r.Noise) {
		return fmt.Errorf("synth: noise %v of the largest sample: want a finite value of 0 or above",
			r.Noise)
	}
	if r.Bits != 0 && (r.Bits < 2 || r.Bits > 24) {
		return fmt.Errorf("synth: %d bits: want 2 to 24, or 0 for none", r.Bits)
	}
	if r.FullScale != 0 && !number.Positive(r.FullScale) {
		return fmt.Errorf("synth: full scale %v of the largest sample: "+
			"want a finite value above 0, or 0 for 1", r.FullScale)
	}
	return nil
}

// Record returns a copy of c with the faults of r: first jitter, then dead elements, noise and the
// digitiser. The copy shares Array, Events and Pairs with c. The random numbers of a trace depend
// on Seed and on the pair only. The error names the field that is out of range.
func (r Receiver) Record(c *fmc.Capture) (*fmc.Capture, error) {
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("synth: %w", err)
	}
	if err := r.validate(c); err != nil {
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

// random returns the generator of a pair. With rx = -1, it is the generator of the transmission.
func (r Receiver) random(tx, rx int) *rand.Rand {
	return rand.New(rand.NewPCG(r.Seed, uint64(tx)<<32|uint64(uint32(rx))))
}

// convert returns the output of the digitiser for a sample.
func (r Receiver) convert(v, largest float64) float32 {
	if r.Bits == 0 || largest == 0 {
		return float32(v)
	}
	scale := largest
	if r.FullScale > 0 {
		scale *= r.FullScale
	}
	limit := math.Ldexp(1, r.Bits-1)
	// If the range underflows, the smallest number takes its place, and all samples are clipped.
	v /= max(scale, math.SmallestNonzeroFloat64)
	return float32(max(-limit, min(limit-1, math.RoundToEven(v*limit))))
}

// delay delays the traces of each transmission by a random time, with the shift theorem of the
// Fourier transform. Samples before the record count as 0.
func (r Receiver) delay(c *fmc.Capture) {
	const most = 6 // standard deviations: no random number in practice exceeds it
	padding := int(math.Ceil(most * r.Jitter * c.SampleRate))
	transform := fourier.NewFFT(smooth(c.Samples + padding + 1))
	signal := make([]float64, transform.Len())
	bins := make([]complex128, transform.Len()/2+1)
	for pair, trace := range c.Traces() {
		deviations := r.random(pair.Tx, -1).NormFloat64()
		late := r.Jitter * max(-most, min(most, deviations))
		clear(signal)
		for k, v := range trace {
			signal[k] = float64(v)
		}
		transform.Coefficients(bins, signal)
		for k := range bins {
			phase := -2 * math.Pi * transform.Freq(k) * late * c.SampleRate
			bins[k] *= cmplx.Rect(1/float64(len(signal)), phase)
		}
		transform.Sequence(signal, bins)
		for k := range trace {
			trace[k] = float32(signal[k])
		}
	}
}
