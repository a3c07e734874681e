// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"gonum.org/v1/gonum/dsp/window"
)

// BandPass is a zero-phase band-pass filter: a symmetric FIR filter, whose coefficients are the
// ideal band-pass times a Blackman window (F. J. Harris, Proc. IEEE 66 (1978) 51). Its response is
// real. The amplitude is 1 between the edges, to 0.005 dB, and a half (−6.02 dB) at Low and High.
// Beyond the edges it is at most −66 dB. An edge is Transition wide, with Low or High in its
// middle:
//
//	           Low              High
//	            ┆   __________   ┆         1
//	            ┆  /          \  ┆
//	            ┆ /            \ ┆         1/2
//	____________┆/              \┆_______  0
//	          |––––|          |––––|
//	        Transition      Transition
//
// The filter has 2·⌈2.75·SampleRate/Transition⌉ + 1 coefficients, and reaches half of them to
// either side. Echoes keep their times. A short echo gets a tail on both of its sides.
//
// The zero value is the filter with all defaults.
type BandPass struct {
	// Low and High are the frequencies in Hz at which the amplitude is a half, 0 < Low < High <
	// half the sample rate. The defaults, for 0, are the centre frequency of the array times 1 ∓
	// its bandwidth: twice the width of its -6 dB band. The default of Low is at least a fifth of
	// the centre frequency, and the default of High at most 0.45 of the sample rate. Package tfm
	// has the same default band.
	Low, High float64

	// Transition is the width of each edge in Hz, at most 2·Low, High − Low and SampleRate −
	// 2·High. Edges then end at zero and at half the sample rate, and do not meet. The default, for
	// 0, is the least of the three. A smaller value makes a longer filter, of at most 8,193
	// coefficients.
	Transition float64
}

func (b BandPass) compile(like *fmc.Capture) (runner, error) {
	rate, a := like.SampleRate, like.Array
	if b.Low == 0 {
		b.Low = a.CentreFrequency * max(0.2, 1-a.Bandwidth)
	}
	if b.High == 0 {
		b.High = min(0.45*rate, a.CentreFrequency*(1+a.Bandwidth))
	}
	if !(b.Low > 0 && b.Low < b.High && b.High < rate/2) {
		return nil, fmt.Errorf("condition: pass band %v to %v Hz: "+
			"want 0 < low < high < %v Hz, half the sample rate", b.Low, b.High, rate/2)
	}
	widest := min(2*b.Low, b.High-b.Low, rate-2*b.High)
	if b.Transition == 0 {
		b.Transition = widest
	}
	if least := 5.5 * rate / (maxTaps - 1); !(b.Transition >= least && b.Transition <= widest) {
		return nil, fmt.Errorf("condition: transition of %v Hz: want %v to %v Hz",
			b.Transition, least, widest)
	}
	half := int(math.Ceil(2.75 * rate / b.Transition))
	return &fir{bandPassTaps(b.Low/rate, b.High/rate, half), half}, nil
}

// bandPassTaps returns 2·half+1 coefficients, for edges in units of the sample rate.
func bandPassTaps(low, high float64, half int) []float32 {
	h := make([]float64, 2*half+1)
	for i := range h {
		n := float64(i - half)
		h[i] = 2*high*number.Sinc(2*high*n) - 2*low*number.Sinc(2*low*n)
	}
	window.Blackman(h)
	taps := make([]float32, len(h))
	for i := range half + 1 {
		taps[i] = float32(h[i])
		taps[2*half-i] = taps[i]
	}
	return taps
}
