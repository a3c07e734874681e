// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
)

// traces holds the spectra of all traces of a capture, at the frequencies of the pulse. Echoes are
// added to them one after another.
type traces struct {
	capture     *fmc.Capture
	pulse       []float64 // spectrum of the pulse; its sum over the frequencies is the pulse
	frequencies []float64 // Hz
	first       int       // the bin of the first frequency
	length      int       // of the transform, in samples
	reach       float64   // largest time from the centre of the pulse at which it is not 0, s
	trail       float64   // time for which reflectors ring after the pulse, s
	spectra     [][]complex128
	spread      parallel.Options
}

// maxLength is the largest length of a transform in samples. maxSpectra is the largest number of
// frequencies in all spectra together, of 16 bytes each.
const (
	maxLength  = 1 << 24
	maxSpectra = 1 << 30
)

// newTraces returns traces without echoes. An echo that rings for longer than trail after the
// pulse may wrap round the record.
func newTraces(c *fmc.Capture, p pulse, trail float64) (*traces, error) {
	reach, width := p.reach()
	t := &traces{capture: c, reach: reach, trail: trail}
	length := float64(c.Samples) + math.Ceil((2*reach+trail)*c.SampleRate)
	if !(length <= maxLength) {
		return nil, fmt.Errorf("synth: record of %d samples and the pulse, %.3g together: want at most %d; "+
			"a broader band or a lower sample rate makes the pulse shorter",
			c.Samples, length, maxLength)
	}
	t.length = smooth(int(length))
	step := c.SampleRate / float64(t.length)
	last := min(int((p.centre+width)/step), (t.length-1)/2)
	t.first = max(1, int((p.centre-width)/step))
	for k := t.first; k <= last; k++ {
		f := float64(k) * step
		t.frequencies = append(t.frequencies, f)
		t.pulse = append(t.pulse, p.spectrum(f)*step/(p.deviation*math.Sqrt(2*math.Pi)))
	}
	if limit := maxSpectra / len(c.Pairs); len(t.frequencies) > limit {
		return nil, fmt.Errorf("synth: %d traces of %d frequencies: want at most %d of so many traces",
			len(c.Pairs), len(t.frequencies), limit)
	}
	t.spectra = make([][]complex128, len(c.Pairs))
	for i := range t.spectra {
		t.spectra[i] = make([]complex128, len(t.frequencies))
	}
	return t, nil
}

// smooth returns the smallest number from n on that has no prime factor above 5. A Fourier
// transform of such a length is fast.
func smooth(n int) int {
	for ; ; n++ {
		rest := n
		for _, prime := range [...]int{2, 3, 5} {
			for rest%prime == 0 {
				rest /= prime
			}
		}
		if rest == 1 {
			return n
		}
	}
}

// covers reports whether the record contains a part of an echo at a time.
func (t *traces) covers(time float64) bool {
	c := t.capture
	return time >= c.FirstSample-t.reach-t.trail && time <= c.Time(c.Samples-1)+t.reach
}

// add adds an echo that arrives at a time to pair p. The spectrum of the echo has the time factor
// exp(-iωt), and does not contain the pulse.
func (t *traces) add(p int, spectrum []complex128, time float64) {
	delay := time - t.capture.FirstSample
	step := t.capture.SampleRate / float64(t.length)
	turn := func(f float64) complex128 {
		_, turns := math.Modf(f * delay)
		return cmplx.Rect(1, 2*math.Pi*turns)
	}
	sum := t.spectra[p]
	phase, advance := turn(t.frequencies[0]), turn(step)
	for k, v := range spectrum {
		sum[k] += v * phase
		phase *= advance
	}
}

// samples transforms all spectra into the samples of the capture.
func (t *traces) samples(ctx context.Context) error {
	c := t.capture
	return parallel.Do(ctx, len(c.Pairs), t.spread, func() func(p int) error {
		transform := fourier.NewFFT(t.length)
		bins := make([]complex128, t.length/2+1)
		signal := make([]float64, t.length)
		return func(p int) error {
			for k, v := range t.spectra[p] {
				// The transform has the time factor exp(iωt), hence the conjugate. It adds the
				// conjugate at the negative frequency, hence the factor 1/2.
				bins[t.first+k] = cmplx.Conj(v) * complex(t.pulse[k]/2, 0)
			}
			transform.Sequence(signal, bins)
			for k := range c.Trace(p) {
				if !(math.Abs(signal[k]) <= math.MaxFloat32) {
					return fmt.Errorf("synth: sample %d of pair %v: %v: want a finite value that float32 holds, "+
						"from weaker reflectors, away from the surfaces", k, c.Pairs[p], signal[k])
				}
				c.Trace(p)[k] = float32(signal[k])
			}
			return nil
		}
	})
}
