// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/parallel"
)

// DecodeOptions are the options of [Decode]. Orthogonal codes without delays use only Workers.
type DecodeOptions struct {
	// Low and High are the frequencies in Hz between which traces are decoded, 0 < Low < High ≤
	// half the sample rate. The decoded matrix has nothing outside of them. A Low of 1 Hz decodes
	// all frequencies but 0. The defaults, for 0, are the centre frequency of the array times 1 ∓
	// 1.5·Bandwidth, where a Gaussian pulse is 54 dB down. They are cut at 0 and at half the sample
	// rate.
	Low, High float64

	// Damping limits the amplification of noise, 1e-6 to 1. It is a share of the root mean square
	// of the singular values of the events. Singular values below this share are damped. Noise is
	// amplified by at most 1/(2·Damping), relative to a singular value of that mean. Less damping
	// resolves more of the matrix. The default, for 0, is 0.01.
	Damping float64

	// Workers is the greatest number of goroutines that work at a time; 0 stands for all cores.
	Workers int
}

// Recovery says how far the events determine the full matrix.
type Recovery struct {
	// Exact is true for orthogonal codes without delays, which are decoded without a loss. The
	// other fields are then 1.
	Exact bool

	// Condition is the largest ratio of two singular values of the events, over all frequencies
	// that were decoded, before the damping. The number of singular values is the number of events
	// or of elements, whichever is less. Condition is +Inf if the ratio is above 1e6.
	Condition float64

	// Resolved is the share of the full matrix that was found, 0 to 1. It is the share of the
	// energy, as a mean over all decoded frequencies, for traces that are not correlated with each
	// other. E events of N elements resolve at most E/N.
	Resolved float64
}

// Decode returns the full matrix from a capture of events, in the layout [fmc.Full], and how far
// the events determine it. The capture must hold every event with every receiver. Array is shared.
// Nil options stand for all defaults.
//
// Orthogonal codes without delays, such as [Hadamard], are decoded sample by sample: trace i is Σ
// w_i·y / Σ w_i² over the events, summed in float64 and rounded once. All other events are decoded
// at each frequency by itself. There the events are a matrix A, with w·exp(−iωd) for each event and
// element, and the traces are
//
//	(AᴴA + λ²)⁻¹·Aᴴ·y,
//
// where y are the spectra of the events and λ is Damping times the root mean square of the singular
// values of A: damped least squares (A. N. Tikhonov; see P. C. Hansen, Discrete Inverse Problems
// (2010), cited from memory). If the events do not determine the traces, this solution has the
// smallest norm. It takes 32 bytes for each frequency, receiver, and event or element.
//
// The result has the same bits for any number of workers. If ctx ends early, Decode returns the
// error of ctx.
func Decode(ctx context.Context, c *fmc.Capture, options *DecodeOptions) (
	*fmc.Capture, *Recovery, error,
) {
	if err := c.Validate(); err != nil {
		return nil, nil, fmt.Errorf("transmit: %w", err)
	}
	if c.Events == nil || c.Layout() != fmc.Full {
		return nil, nil, errors.New("transmit: a capture without events, or without some pair: " +
			"want events with every receiver, in the layout full")
	}
	o, err := completeOptions(c, options)
	if err != nil {
		return nil, nil, err
	}
	n := len(c.Array.Elements)
	out := *c
	out.Events, out.Pairs, out.Data = nil, fmc.FullPairs(n), nil
	full, err := fmc.New(out)
	if err != nil {
		return nil, nil, fmt.Errorf("transmit: %w", err)
	}
	recovery := &Recovery{Exact: true, Condition: 1, Resolved: 1}
	if orthogonal(c.Events) {
		err = decodeCodes(ctx, full, c, o)
	} else {
		recovery, err = decodeSpectra(ctx, full, c, o)
	}
	if err != nil {
		return nil, nil, err
	}
	if err := full.CheckSamples(); err != nil {
		return nil, nil, fmt.Errorf("transmit: %w", err)
	}
	return full, recovery, nil
}

// completeOptions replaces zeros by defaults, and returns an error for the first field out of
// range.
func completeOptions(c *fmc.Capture, options *DecodeOptions) (DecodeOptions, error) {
	var o DecodeOptions
	if options != nil {
		o = *options
	}
	centre, reach := c.Array.CentreFrequency, 1.5*c.Array.Bandwidth
	if o.High == 0 {
		o.High = min(c.SampleRate/2, centre*(1+reach))
	}
	if o.Low == 0 {
		o.Low = max(0, centre*(1-reach))
	}
	if o.Damping == 0 {
		o.Damping = 0.01
	}
	if !(o.Low >= 0 && o.Low < o.High && o.High <= c.SampleRate/2) {
		return o, fmt.Errorf("transmit: decoding from %v to %v Hz: "+
			"want an ascending range within 0 to half the sample rate, %v Hz",
			o.Low, o.High, c.SampleRate/2)
	}
	if !(o.Damping >= 1e-6 && o.Damping <= 1) {
		return o, fmt.Errorf("transmit: damping %v: want 1e-6 to 1", o.Damping)
	}
	return o, nil
}

// orthogonal reports whether the columns of weights are orthogonal, to rounding, and all delays are
// zero.
func orthogonal(events []fmc.Event) bool {
	for _, e := range events {
		for _, d := range e.Delays {
			if d != 0 {
				return false
			}
		}
	}
	const rounding = 1e-14
	for i := range events[0].Weights {
		for j := range i + 1 {
			dot, size := 0.0, 0.0
			for _, e := range events {
				dot += e.Weights[i] * e.Weights[j]
				size += math.Abs(e.Weights[i] * e.Weights[j])
			}
			if i == j && !number.Positive(dot) {
				return false
			}
			if i != j && !(math.Abs(dot) <= rounding*size) {
				return false
			}
		}
	}
	return true
}

// decodeCodes decodes orthogonal events without delays.
func decodeCodes(ctx context.Context, full, c *fmc.Capture, o DecodeOptions) error {
	spread := parallel.Options{Workers: o.Workers}
	n := len(c.Array.Elements)
	return parallel.Do(ctx, n, spread, func() func(i int) error {
		sum := make([]float64, c.Samples)
		return func(i int) error {
			square := 0.0
			for _, e := range c.Events {
				square += e.Weights[i] * e.Weights[i]
			}
			for r := range n {
				clear(sum)
				for e, event := range c.Events {
					if w := event.Weights[i]; w != 0 {
						addShifted(sum, c.Trace(e*n+r), w, 0)
					}
				}
				for k, v := range sum {
					full.Trace(i*n + r)[k] = float32(v / square)
				}
			}
			return nil
		}
	})
}

// decodeSpectra decodes any events, frequency by frequency.
func decodeSpectra(ctx context.Context, full, c *fmc.Capture, o DecodeOptions) (*Recovery, error) {
	spread := parallel.Options{Workers: o.Workers}
	length := transformLength(c.Samples)
	unit := c.SampleRate / float64(length)
	first, last := int(math.Ceil(o.Low/unit)), int(math.Floor(o.High/unit))
	if first > last {
		return nil, fmt.Errorf("transmit: decoding from %v to %v Hz: "+
			"want a range with a frequency of the record, every %v Hz", o.Low, o.High, unit)
	}
	n := len(c.Array.Elements)
	// The known and the sought spectra, for each frequency. Event or element i and receiver r are
	// at i·n + r.
	known, sought := spectra(last-first+1, len(c.Pairs)), spectra(last-first+1, n*n)
	if err := transform(ctx, known, c, length, first, spread); err != nil {
		return nil, err
	}
	recoveries := make([]Recovery, len(known))
	err := parallel.Do(ctx, len(known), spread, func() func(f int) error {
		s := newSolver(c.Events, o.Damping)
		return func(f int) (err error) {
			recoveries[f], err = s.solve(sought[f], known[f], 2*math.Pi*unit*float64(first+f))
			return err
		}
	})
	if err != nil {
		return nil, err
	}
	if err := restore(ctx, full, sought, length, first, spread); err != nil {
		return nil, err
	}
	all := new(Recovery)
	for _, r := range recoveries {
		all.Condition = max(all.Condition, r.Condition)
		all.Resolved += r.Resolved / float64(len(recoveries))
	}
	return all, nil
}

// transform sets the spectra of the traces of c, from the given first frequency on, by transforms
// of the given length.
func transform(ctx context.Context, spectra [][]complex128, c *fmc.Capture, length, first int, spread parallel.Options) error {
	return parallel.Do(ctx, len(c.Pairs), spread, func() func(p int) error {
		fft, samples := fourier.NewFFT(length), make([]float64, length)
		var spectrum []complex128
		return func(p int) error {
			for k, v := range c.Trace(p) {
				samples[k] = float64(v)
			}
			spectrum = fft.Coefficients(spectrum, samples)
			for f := range spectra {
				spectra[f][p] = spectrum[first+f]
			}
			return nil
		}
	})
}

// restore sets the traces of c from their spectra, which are 0 outside the given frequencies.
func restore(ctx context.Context, c *fmc.Capture, spectra [][]complex128, length, first int, spread parallel.Options) error {
	return parallel.Do(ctx, len(c.Pairs), spread, func() func(p int) error {
		fft, samples := fourier.NewFFT(length), make([]float64, length)
		spectrum := make([]complex128, length/2+1)
		return func(p int) error {
			for f := range spectra {
				spectrum[first+f] = spectra[f][p]
			}
			fft.Sequence(samples, spectrum)
			for k := range c.Trace(p) {
				c.Trace(p)[k] = float32(samples[k] / float64(length))
			}
			return nil
		}
	})
}

// spectra returns a row of zeros for each frequency.
func spectra(frequencies, traces int) [][]complex128 {
	rows := make([][]complex128, frequencies)
	for f := range rows {
		rows[f] = make([]complex128, traces)
	}
	return rows
}
