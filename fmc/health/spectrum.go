// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"

	"github.com/mjibson/go-dsp/spectral"
	dsp "github.com/mjibson/go-dsp/window"
)

// spectrum returns the power of the echo of a trace by frequency. For n values the step is the
// sample rate divided by 2·n-2. The echo is cut out from two pulse lengths before the largest
// sample of the echo gate to two pulse lengths after it, with raised cosines over the outer
// halves. It is padded to a resolution of a two-hundredth of the centre frequency or finer. The
// result is nil if the record is too short.
func (a *assessment) spectrum(p int) []float64 {
	c := a.capture
	trace, offset := c.Trace(p), float64(a.report.Traces[p].Offset)
	peak := a.echo.first
	for k := a.echo.first; k < a.echo.end; k++ {
		if math.Abs(float64(trace[k])-offset) > math.Abs(float64(trace[peak])-offset) {
			peak = k
		}
	}
	half := a.samples(2 * a.pulse())
	if half < 4 || half > c.Samples {
		return nil
	}
	segment := make([]float64, 2*half) // even, as Welch's method wants it
	for i := range segment {
		if k := peak - half + i; k >= 0 && k < c.Samples {
			segment[i] = taper(math.Abs(float64(i-half))/float64(half)) * (float64(trace[k]) - offset)
		}
	}
	pad := 1
	for pad < len(segment) || float64(pad)*c.Array.CentreFrequency < 200*c.SampleRate {
		if pad *= 2; pad > 1<<16 {
			return nil
		}
	}
	power, _ := spectral.Pwelch(segment, c.SampleRate, &spectral.PwelchOptions{NFFT: len(segment), Pad: pad, Window: dsp.Rectangular})
	return power
}

// taper is 1 up to a half and falls to 0 at 1.
func taper(u float64) float64 {
	if u <= 0.5 {
		return 1
	}
	return (1 + math.Cos(2*math.Pi*(min(u, 1)-0.5))) / 2
}

// band returns the centre of the band in Hz, and its width as a share of the centre. The ends of
// the band are the frequencies next to the peak of the spectrum at which the amplitude is half of
// the peak (-6 dB), interpolated. The results are NaN if the spectrum does not fall so far.
func (a *assessment) band(power []float64) (centre, width Number) {
	top := 0
	for i, v := range power {
		if v > power[top] {
			top = i
		}
	}
	if len(power) < 2 || !(power[top] > 0) {
		return unknown, unknown
	}
	level := power[top] / 4
	low, high := top, top
	for low > 0 && power[low] > level {
		low--
	}
	for high < len(power)-1 && power[high] > level {
		high++
	}
	if power[low] > level || power[high] > level {
		return unknown, unknown
	}
	step := a.capture.SampleRate / float64(2*(len(power)-1))
	from := float64(low) + (level-power[low])/(power[low+1]-power[low])
	to := float64(high) - (level-power[high])/(power[high-1]-power[high])
	return Number((from + to) / 2 * step), Number((to - from) / ((from + to) / 2))
}
