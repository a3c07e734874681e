// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"

	"github.com/isochron-imaging/isochron/internal/vector"
)

// bandPass returns a filter about the centre frequency: a Gaussian band whose width at -6 dB is
// twice the bandwidth of the array. It removes most of the noise before echoes are compared, and
// changes their pulse little. Its length is odd. Where the record does not reach the centre
// frequency, it passes everything.
func (a *assessment) bandPass() []float32 {
	c := a.capture
	deviation := 2 * c.Array.SpectralDeviation()
	duration := c.SampleRate / (2 * math.Pi * deviation) // samples
	half := int(math.Min(math.Ceil(3.5*duration), float64(c.Samples)))
	if 2*c.Array.CentreFrequency >= c.SampleRate {
		return []float32{1}
	}
	filter := make([]float32, 2*half+1)
	for i := range filter {
		t := float64(i - half)
		filter[i] = float32(math.Exp(-t*t/(2*duration*duration)) * math.Cos(2*math.Pi*c.Array.CentreFrequency/c.SampleRate*t))
	}
	return filter
}

// inBand holds the samples of a window of each trace, filtered by the band-pass.
type inBand struct {
	window
	traces [][]float32
}

// of returns the samples of trace p in a window that lies within the stored window.
func (b *inBand) of(p int, w window) []float32 { return b.traces[p][w.first-b.first : w.end-b.first] }

// filter filters a window of each trace without its offset. The samples before and after
// the record count as 0.
func (a *assessment) filter(w window) inBand {
	c, filter := a.capture, a.bandPass()
	half := len(filter) / 2
	out := make([][]float32, len(c.Pairs))
	padded := make([]float32, c.Samples+2*half)
	for p := range out {
		offset := float32(a.report.Traces[p].Offset)
		for k, v := range c.Trace(p) {
			padded[half+k] = v - offset
		}
		out[p] = make([]float32, w.length())
		vector.Convolve(out[p], padded[w.first:w.end+2*half], filter)
	}
	return inBand{w, out}
}
