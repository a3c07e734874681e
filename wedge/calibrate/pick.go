// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
)

// PickOptions modifies [Pick]. Nil stands for the zero value.
type PickOptions struct {
	// Band is the pass band of the envelope. The zero value stands for
	// [tfm.DefaultBand] of the array.
	Band tfm.Band
	// From and To are the times between which echoes are picked, s. From should lie after the
	// ringing of the transmitted pulse. 0 stands for six periods of the centre frequency and for
	// the end of the record.
	From, To float64
	// Most is the largest number of echoes of a trace; the strongest ones are kept. 0 stands for 4.
	Most int
	// Least is the smallest amplitude of an echo, as a share of the strongest echo of its trace, 0
	// to 1. 0 stands for 0.1.
	Least float64
}

// Pick picks echoes from the traces of a capture. For each trace it takes the largest maxima of the
// envelope, in order of amplitude. The pairs are in the order of the capture.
//
// The time of a maximum is the top of the parabola through the logarithms of three samples of the
// envelope. For a Gaussian pulse this time is exact. The amplitude is the height of the top, in the
// unit of the samples. A trace without a maximum between From and To has no arrivals. The error of
// a capture of events wraps [fmc.ErrEvents].
func Pick(c *fmc.Capture, options *PickOptions) ([]Arrival, error) {
	if c == nil {
		return nil, errors.New("calibrate: pick without a capture")
	}
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("calibrate: arrivals: %w", err)
	}
	if c.Events != nil {
		return nil, fmt.Errorf("calibrate: arrivals: %w", fmc.ErrEvents)
	}
	o, err := completePick(c, options)
	if err != nil {
		return nil, err
	}
	transform, err := tfm.NewAnalytic(c.Samples, c.SampleRate, o.Band)
	if err != nil {
		return nil, err
	}
	signal := make([]complex64, c.Samples)
	var arrivals []Arrival
	for pair, trace := range c.Traces() {
		if err := transform.Transform(signal, trace); err != nil {
			return nil, fmt.Errorf("calibrate: arrivals of %v: %w", pair, err)
		}
		picked := pickMaxima(signal, c.FirstSample, c.SampleRate, o.From, o.To)
		slices.SortStableFunc(picked, func(a, b Arrival) int { return cmp.Compare(b.Amplitude, a.Amplitude) })
		for i, a := range picked[:min(o.Most, len(picked))] {
			if i > 0 && a.Amplitude < o.Least*picked[0].Amplitude {
				break
			}
			a.Transmit, a.Receive = pair.Tx, pair.Rx
			arrivals = append(arrivals, a)
		}
	}
	return arrivals, nil
}

// completePick replaces zeros by defaults and reports the first field out of
// range.
func completePick(c *fmc.Capture, options *PickOptions) (PickOptions, error) {
	var o PickOptions
	if options != nil {
		o = *options
	}
	if o.Band == (tfm.Band{}) {
		o.Band = tfm.DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
	}
	if o.From == 0 {
		o.From = 6 / c.Array.CentreFrequency
	}
	if o.To == 0 {
		o.To = c.Time(c.Samples - 1)
	}
	if o.Most == 0 {
		o.Most = 4
	}
	if o.Least == 0 {
		o.Least = 0.1
	}
	switch {
	case math.IsNaN(o.From) || math.IsInf(o.From, 0):
		return o, fmt.Errorf("calibrate: arrivals from %v s: want a finite time", o.From)
	case !(o.To > o.From) || math.IsInf(o.To, 0):
		return o, fmt.Errorf("calibrate: arrivals from %v to %v s: want a finite end after the beginning",
			o.From, o.To)
	case o.Most < 0:
		return o, fmt.Errorf("calibrate: most %d arrivals of a trace: want 0 or above", o.Most)
	case !(o.Least >= 0 && o.Least <= 1):
		return o, fmt.Errorf("calibrate: least share %v of an arrival: want 0 to 1", o.Least)
	}
	return o, nil
}

// pickMaxima returns the maxima of the envelope of signal between two times.
func pickMaxima(signal []complex64, first, rate, from, to float64) []Arrival {
	squared := func(k int) float64 {
		re, im := float64(real(signal[k])), float64(imag(signal[k]))
		return re*re + im*im
	}
	var picked []Arrival
	// Samples 1 to len-2 have neighbours on both sides.
	begin := math.Ceil((from - first) * rate)
	end := math.Floor((to - first) * rate)
	for k := int(max(1, begin)); float64(k) <= min(end, float64(len(signal)-2)); k++ {
		before, here, after := squared(k-1), squared(k), squared(k+1)
		if !(here > before && here >= after) {
			continue
		}
		// Halves of the logarithms of squares are the logarithms of the envelope. A
		// neighbour of zero leaves the maximum where it is.
		shift, rise := 0.0, 0.0
		if before > 0 && after > 0 {
			shift, rise = number.Vertex(math.Log(before/here)/2, 0, math.Log(after/here)/2)
		}
		picked = append(picked, Arrival{
			Time:      first + (float64(k)+shift)/rate,
			Amplitude: math.Sqrt(here) * math.Exp(rise),
		})
	}
	return picked
}
