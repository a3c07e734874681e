// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm"
)

// Trace is an A-scan: the A-scan of a beam, or the trace of one pair of elements. It can be kept as
// JSON ([Trace.MarshalJSON]).
type Trace struct {
	Pair *fmc.Pair // the pair; nil for a beam
	Beam *Beam     // the beam with all its parameters; nil for a pair
	Line *Line     // the axis of the beam; nil for a pair
	Band tfm.Band  // the pass band of the filter, Hz

	// Sample k lies at FirstSample + k/SampleRate, in s and Hz. Time 0 is the centre of the
	// transmitted pulse. For a beam it is the pulse of the centre of the aperture.
	SampleRate, FirstSample float64

	// Analytic is the analytic signal: its real part is the A-scan after the filter, its modulus
	// the envelope. The unit is the unit of the samples, summed over all pairs.
	Analytic []complex64

	// Partial lists ranges of samples to which not all pairs contribute, because an element has no
	// ray, the beam has ended, or the record does not hold the time. Echoes there are too low. A
	// range holds its first sample, and the sample after its last.
	Partial [][2]int
	// Clipped lists ranges of samples that read a sample at which the receiver clipped, in the form
	// of Partial. Heights there are too low. The filter also changes samples within its length
	// beside a range. Without [Options].FullScale it is nil.
	Clipped [][2]int
}

// NewPair returns the trace of a pair of a capture as an A-scan. The zero band stands for
// [tfm.DefaultBand] of the array. A trace that the capture holds in neither direction is an error
// that wraps [fmc.ErrNoTrace].
func NewPair(c *fmc.Capture, pair fmc.Pair, band tfm.Band) (*Trace, error) {
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("ascan: %w", err)
	}
	samples, ok := c.Between(pair.Tx, pair.Rx)
	if !ok {
		return nil, fmt.Errorf("ascan: pair %v: %w", pair, fmc.ErrNoTrace)
	}
	if band == (tfm.Band{}) {
		band = tfm.DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
	}
	analytic, err := tfm.NewAnalytic(c.Samples, c.SampleRate, band)
	if err != nil {
		return nil, err
	}
	t := &Trace{
		Pair: &pair, Band: band, SampleRate: c.SampleRate, FirstSample: c.FirstSample,
		Analytic: make([]complex64, c.Samples),
	}
	return t, analytic.Transform(t.Analytic, samples)
}

// Time returns the time of a sample in s. Fractions of a sample have a time too.
func (t *Trace) Time(sample float64) float64 { return t.FirstSample + sample/t.SampleRate }

// sample returns the sample at a time in s, with its fraction.
func (t *Trace) sample(time float64) float64 { return (time - t.FirstSample) * t.SampleRate }

// SoundPath returns the sound path in m of an echo at a time in s. It is NaN for the trace of a
// pair, which has no beam.
func (t *Trace) SoundPath(time float64) float64 {
	if t.Line == nil {
		return math.NaN()
	}
	return t.Line.SoundPath(time)
}

// Envelope writes the modulus of each sample to dst and returns dst. A dst that is too short is
// allocated.
func (t *Trace) Envelope(dst []float64) []float64 {
	if cap(dst) < len(t.Analytic) {
		dst = make([]float64, len(t.Analytic))
	}
	dst = dst[:len(t.Analytic)]
	for k, v := range t.Analytic {
		dst[k] = cmplx.Abs(complex128(v))
	}
	return dst
}

// validate reports the first field outside its range.
func (t *Trace) validate() error {
	if t == nil {
		return errors.New("ascan: no trace")
	}
	if !(t.SampleRate > 0) || math.IsInf(t.SampleRate, 1) || math.IsNaN(t.FirstSample) || math.IsInf(t.FirstSample, 0) {
		return fmt.Errorf("ascan: sample rate %v Hz, first sample %v s: want finite values, the rate above 0", t.SampleRate, t.FirstSample)
	}
	if len(t.Analytic) == 0 {
		return errors.New("ascan: trace without samples: want at least one")
	}
	for k, v := range t.Analytic {
		if cmplx.IsNaN(complex128(v)) || cmplx.IsInf(complex128(v)) {
			return fmt.Errorf("ascan: sample %d of the trace is %v: want a finite value", k, v)
		}
	}
	if (t.Pair == nil) == (t.Beam == nil) || (t.Beam == nil) != (t.Line == nil) {
		return errors.New("ascan: trace of neither a pair nor a beam with its line: want one of them")
	}
	if t.Line != nil && (len(t.Line.Legs) == 0 || !(t.Line.Speed > 0)) {
		return errors.New("ascan: line of the trace without legs or speed: want at least one leg, and a speed above 0")
	}
	for _, r := range slices.Concat(t.Partial, t.Clipped) {
		if r[0] < 0 || r[0] >= r[1] || r[1] > len(t.Analytic) {
			return fmt.Errorf("ascan: partial or clipped range %v of %d samples: want 0 ≤ first < last ≤ number", r, len(t.Analytic))
		}
	}
	return nil
}
