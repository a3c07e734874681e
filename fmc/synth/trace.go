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
	band
	capture *fmc.Capture
	reach   float64 // largest time from the centre of the pulse at which it is not 0, s
	trail   float64 // time for which reflectors ring after the pulse, s
	spectra [][]complex128
	spread  parallel.Options
}

// band is the pulse in the bins of a Fourier transform.
type band struct {
	pulse       []float64 // spectrum of the pulse; its sum over the frequencies is the pulse
	frequencies []float64 // Hz
	first       int       // the bin of the first frequency
	length      int       // of the transform, in samples
	step        float64   // from bin to bin, Hz
}

// newBand returns the band of a pulse for a transform of so many samples at a rate in Hz.
func newBand(p pulse, length int, rate float64) band {
	b := band{length: length, step: rate / float64(length)}
	_, width := p.reach()
	last := min(int((p.centre+width)/b.step), (length-1)/2)
	b.first = max(1, int((p.centre-width)/b.step))
	for k := b.first; k <= last; k++ {
		f := float64(k) * b.step
		b.frequencies = append(b.frequencies, f)
		b.pulse = append(b.pulse, p.spectrum(f)*b.step/(p.deviation*math.Sqrt(2*math.Pi)))
	}
	return b
}

// bins returns the bins of the transform of a real signal.
func (b *band) bins() []complex128 { return make([]complex128, b.length/2+1) }

// fill sets the bins of the band to the spectrum of an echo with the pulse. The spectrum has the
// time factor exp(-iωt). The transform has the time factor exp(iωt), hence the conjugate. It adds
// the conjugate at the negative frequency, hence the factor 1/2.
func (b *band) fill(bins, spectrum []complex128) {
	for k, v := range spectrum {
		bins[b.first+k] = cmplx.Conj(v) * complex(b.pulse[k]/2, 0)
	}
}

// turns returns the factor exp(2πi·f·delay) at the first frequency, and its ratio from one
// frequency to the next.
func (b *band) turns(delay float64) (first, ratio complex128) {
	turn := func(f float64) complex128 {
		_, turns := math.Modf(f * delay)
		return cmplx.Rect(1, 2*math.Pi*turns)
	}
	return turn(b.frequencies[0]), turn(b.step)
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
	reach, _ := p.reach()
	t := &traces{capture: c, reach: reach, trail: trail}
	length := float64(c.Samples) + math.Ceil((2*reach+trail)*c.SampleRate)
	if !(length <= maxLength) {
		return nil, fmt.Errorf("synth: record of %d samples and the pulse, %.3g together: want at most %d; "+
			"a broader band or a lower sample rate makes the pulse shorter",
			c.Samples, length, maxLength)
	}
	t.band = newBand(p, smooth(int(length)), c.SampleRate)
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
	sum := t.spectra[p]
	phase, advance := t.turns(time - t.capture.FirstSample)
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
		bins := t.bins()
		signal := make([]float64, t.length)
		return func(p int) error {
			t.fill(bins, t.spectra[p])
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
