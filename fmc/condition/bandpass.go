// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"gonum.org/v1/gonum/dsp/window"
)

// BandPass is a zero-phase band-pass: a symmetric FIR, the ideal band-pass
// times a Blackman window (F. J. Harris, Proc. IEEE 66 (1978) 51). Its response
// is real. The amplitude is 1 to 0.005 dB between the edges, a half (−6.02 dB)
// at Low and High, and 66 dB down or more beyond them, where an edge is
// Transition wide and has Low or High in its middle:
//
//	           Low              High
//	            ┆   __________   ┆         1
//	            ┆  /          \  ┆
//	            ┆ /            \ ┆         1/2
//	____________┆/              \┆_______  0
//	          |––––|          |––––|
//	        Transition      Transition
//
// It has 2·⌈2.75·SampleRate/Transition⌉ + 1 coefficients, and reaches as far
// to either side as half of them. Echoes keep their times; a short echo gets a
// tail on both of its sides.
type BandPass struct {
	format
	fir fir
}

// BandPassOptions are the options of a [BandPass]. A zero field means the
// default.
type BandPassOptions struct {
	// Low and High are the frequencies in Hz at which the amplitude is halved,
	// 0 < Low < High < half the sample rate. The defaults are the centre frequency
	// of the array times 1 ∓ its bandwidth, twice the width of its -6 dB band, but at
	// least a fifth of the centre frequency and at most 0.45 of the sample rate: the
	// band that package tfm takes by default.
	Low, High float64

	// Transition is the width of each edge in Hz, at most 2·Low, High − Low and
	// SampleRate − 2·High, so that edges end at zero and half the sample rate
	// and do not meet. The default is the least of the three; less makes a
	// longer filter, of at most 8,193 coefficients.
	Transition float64
}

// NewBandPass returns the filter for captures like the given one. Nil options
// mean all defaults.
func NewBandPass(like *fmc.Capture, options *BandPassOptions) (*BandPass, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	o, err := completeBand(options, like.Array, f.rate)
	if err != nil {
		return nil, err
	}
	half := int(math.Ceil(2.75 * f.rate / o.Transition))
	return &BandPass{f, fir{bandPassTaps(o.Low/f.rate, o.High/f.rate, half), half}}, nil
}

func completeBand(options *BandPassOptions, a fmc.Array, rate float64) (BandPassOptions, error) {
	var o BandPassOptions
	if options != nil {
		o = *options
	}
	if o.Low == 0 {
		o.Low = a.CentreFrequency * max(0.2, 1-a.Bandwidth)
	}
	if o.High == 0 {
		o.High = min(0.45*rate, a.CentreFrequency*(1+a.Bandwidth))
	}
	if !(o.Low > 0 && o.Low < o.High && o.High < rate/2) {
		return o, fmt.Errorf("condition: pass band %v to %v Hz: want 0 < low < high < %v Hz, half the sample rate", o.Low, o.High, rate/2)
	}
	widest := min(2*o.Low, o.High-o.Low, rate-2*o.High)
	if o.Transition == 0 {
		o.Transition = widest
	}
	if least := 5.5 * rate / (maxTaps - 1); !(o.Transition >= least && o.Transition <= widest) {
		return o, fmt.Errorf("condition: transition of %v Hz: want %v to %v Hz", o.Transition, least, widest)
	}
	return o, nil
}

// bandPassTaps returns 2·half+1 coefficients, for edges in units of the sample
// rate.
func bandPassTaps(low, high float64, half int) []float32 {
	h := make([]float64, 2*half+1)
	for i := range h {
		n := float64(i - half)
		h[i] = 2*high*sinc(2*high*n) - 2*low*sinc(2*low*n)
	}
	window.Blackman(h)
	taps := make([]float32, len(h))
	for i := range half + 1 {
		taps[i] = float32(h[i])
		taps[2*half-i] = taps[i]
	}
	return taps
}

// sinc returns sin(πx)/(πx).
func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// Response returns the factor by which a tone of the given frequency in Hz is
// multiplied far from the ends of the record. It is real: no phase is added.
func (b *BandPass) Response(frequency float64) float64 {
	return real(b.fir.response(frequency / b.rate))
}

func (b *BandPass) margin() int { return b.fir.margin() }

func (b *BandPass) run(_ int, trace, spare []float32) { b.fir.run(trace, spare) }
