// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
)

// EncodeOptions are the options of [Encode].
type EncodeOptions struct {
	// Workers is the greatest number of goroutines that work at a time; 0 stands for all cores.
	Workers int
}

// Encode computes the capture of events from a capture of single elements, which holds every pair
// in one direction or both. In the result all elements record, at the sample times of c. Array and
// events are shared. Nil options stand for all defaults.
//
// A delay within 1e-6 of a whole number of samples shifts samples, which is exact. Sums are in
// float64 and rounded once. Any other delay is a factor on the discrete spectrum of the trace,
// with zeros before and after the trace. This is band-limited interpolation. Its error is below
// 1e-6 of the peak if the trace begins and ends at zero, and its spectrum at half the sample rate
// is below 1e-6. A trace that is cut off while it still rings has larger errors next to the cut.
// Echoes before the first sample are not known.
//
// The result has the same bits for any number of workers. If ctx ends early, Encode returns the
// error of ctx.
func Encode(ctx context.Context, c *fmc.Capture, events []fmc.Event, options *EncodeOptions) (
	*fmc.Capture, error,
) {
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("transmit: %w", err)
	}
	if len(events) == 0 {
		return nil, errors.New("transmit: 0 events: want at least 1")
	}
	full, err := c.Full()
	if err != nil {
		return nil, fmt.Errorf("transmit: %w", err)
	}
	out, err := fmc.New(fmc.Capture{
		Array:       c.Array,
		Events:      events,
		Pairs:       fmc.EventPairs(len(events), len(c.Array.Elements)),
		Samples:     c.Samples,
		SampleRate:  c.SampleRate,
		FirstSample: c.FirstSample,
	})
	if err != nil {
		return nil, fmt.Errorf("transmit: %w", err)
	}
	if options == nil {
		options = new(EncodeOptions)
	}
	receivers := len(c.Array.Elements)
	spread := parallel.Options{Workers: options.Workers}
	err = parallel.Do(ctx, receivers, spread, func() func(r int) error {
		e := newEncoder(full, events)
		return func(r int) error {
			e.load(r)
			for i, event := range events {
				e.event(out.Trace(i*receivers+r), event, r)
			}
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	if err := out.CheckSamples(); err != nil {
		return nil, fmt.Errorf("transmit: %w", err)
	}
	return out, nil
}

// encoder sums the traces of one receiver.
type encoder struct {
	full      *fmc.Capture
	transform *fourier.FFT   // nil if all delays are whole
	spectra   [][]complex128 // of the traces from each element to the receiver
	sum       []float64
	product   []complex128
}

func newEncoder(full *fmc.Capture, events []fmc.Event) *encoder {
	e := &encoder{full: full, sum: make([]float64, full.Samples)}
	for _, event := range events {
		for _, d := range event.Delays {
			if _, whole := wholeSamples(d * full.SampleRate); !whole {
				e.transform = fourier.NewFFT(transformLength(full.Samples))
				e.sum = make([]float64, e.transform.Len())
				e.product = make([]complex128, e.transform.Len()/2+1)
				e.spectra = make([][]complex128, len(full.Array.Elements))
				return e
			}
		}
	}
	return e
}

// transformLength returns the length of a transform for traces of the given number of samples. A
// trace that is shifted by its own length then does not overlap itself.
func transformLength(samples int) int {
	n := 2
	for n < 2*samples {
		n *= 2
	}
	return n
}

// wholeSamples rounds a delay in samples to a whole number, and reports whether the delay is one to
// 1e-6. Delays beyond every record count as whole.
func wholeSamples(delay float64) (int, bool) {
	if math.Abs(delay) > math.MaxInt32 {
		return int(math.Copysign(math.MaxInt32, delay)), true
	}
	n := math.Round(delay)
	return int(n), math.Abs(delay-n) <= 1e-6
}

// load takes the traces to receiver r, and their spectra if some delay is not whole.
func (e *encoder) load(r int) {
	if e.transform == nil {
		return
	}
	n := len(e.spectra)
	for i := range e.spectra {
		clear(e.sum)
		for k, v := range e.full.Trace(i*n + r) {
			e.sum[k] = float64(v)
		}
		e.spectra[i] = e.transform.Coefficients(e.spectra[i], e.sum)
	}
}

// event writes the trace of an event to dst.
func (e *encoder) event(dst []float32, event fmc.Event, r int) {
	clear(e.sum)
	e.addFractional(event)
	for i, w := range event.Weights {
		if shift, whole := wholeSamples(event.Delays[i] * e.full.SampleRate); whole && w != 0 {
			addShifted(e.sum[:len(dst)], e.full.Trace(i*len(event.Weights)+r), w, shift)
		}
	}
	for k := range dst {
		dst[k] = float32(e.sum[k])
	}
}

// addShifted adds src to dst, multiplied by weight and delayed by shift samples.
func addShifted(dst []float64, src []float32, weight float64, shift int) {
	for k := max(shift, 0); k < min(len(dst), len(dst)+shift); k++ {
		dst[k] += weight * float64(src[k-shift])
	}
}

// addFractional writes the sum of the elements whose delays are not whole samples to the cleared
// sum.
func (e *encoder) addFractional(event fmc.Event) {
	found := false
	for i, w := range event.Weights {
		delay := event.Delays[i] * e.full.SampleRate
		_, whole := wholeSamples(delay)
		if whole || w == 0 || math.Abs(delay) >= float64(e.full.Samples) {
			continue
		}
		if !found {
			found = true
			clear(e.product)
		}
		e.addSpectrum(i, w, delay)
	}
	if !found {
		return
	}
	e.transform.Sequence(e.sum, e.product)
	scale := 1 / float64(e.transform.Len())
	for k := range e.sum {
		e.sum[k] *= scale
	}
}

// addSpectrum adds the spectrum of the trace from element i, multiplied by weight and delayed by
// delay samples.
func (e *encoder) addSpectrum(i int, weight, delay float64) {
	step := cmplx.Rect(1, -2*math.Pi*delay/float64(e.transform.Len()))
	factor := complex(weight, 0)
	for k, v := range e.spectra[i] {
		e.product[k] += factor * v
		factor *= step
	}
}
