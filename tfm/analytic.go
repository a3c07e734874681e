// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/cmplx"
	"sync"

	"github.com/mjibson/go-dsp/window"
	"gonum.org/v1/gonum/dsp/fourier"
)

// Band is a pass band: the frequencies at which the amplitude is halved.
type Band struct {
	// Low and High are in Hz, 0 < Low < High < half the sample rate. High is at least a thousandth
	// of the sample rate: a lower value was most likely given in MHz or kHz.
	Low, High float64
}

// DefaultBand returns the pass band for an array of a centre frequency (Hz) and a -6 dB bandwidth
// (a share of the centre frequency), for a sample rate (Hz). The pass band is twice as wide as the
// bandwidth. It begins at a fifth of the centre frequency or above, and ends at 0.45 of the sample
// rate or below. The spectrum of a Gaussian pulse is 24 dB down at the edges.
func DefaultBand(centre, bandwidth, sampleRate float64) Band {
	return Band{
		Low:  centre * max(0.2, 1-bandwidth),
		High: min(0.45*sampleRate, centre*(1+bandwidth)),
	}
}

// Analytic turns traces into analytic signals x + i·H{x} in a pass band, where x is the trace
// after the band-pass and H{x} the Hilbert transform of x. It is immutable and safe for concurrent
// use.
//
// The filter is a complex FIR of zero phase: the ideal one-sided band-pass times a Blackman window
// (F. J. Harris, Proc. IEEE 66 (1978) 51). The window is long enough to attenuate constant offsets
// and negative frequencies by 74 dB. The transforms are long enough to avoid wrap-around. The mean
// of the trace is subtracted first, so that an offset leaves no steps at the ends.
type Analytic struct {
	samples, length int
	high            float64      // end of the pass band, in cycles a sample
	taps            []complex128 // the FIR, 2·half+1 coefficients about half
	response        []complex128 // its transform
	scratches       sync.Pool    // of *analyticScratch, for Transform
}

// NewAnalytic returns the transform of traces of the given number of samples,
// at least 1, at a sample rate in Hz.
func NewAnalytic(samples int, sampleRate float64, band Band) (*Analytic, error) {
	if samples < 1 {
		return nil, fmt.Errorf("tfm: traces of %d samples: want at least 1", samples)
	}
	if !(sampleRate > 0) || math.IsInf(sampleRate, 0) {
		return nil, fmt.Errorf("tfm: sample rate %v Hz: want a finite value above 0", sampleRate)
	}
	if !(band.Low > 0 && band.Low < band.High && band.High < sampleRate/2) {
		return nil, fmt.Errorf("tfm: pass band %v to %v Hz: want 0 < low < high < %v Hz, half the sample rate", band.Low, band.High, sampleRate/2)
	}
	if least := sampleRate / 1000; band.High < least {
		return nil, fmt.Errorf("tfm: pass band %v to %v Hz: want a high end of at least %v Hz, a thousandth of the sample rate; was it given in MHz or kHz?", band.Low, band.High, least)
	}
	a := &Analytic{samples: samples, high: band.High / sampleRate, taps: designTaps(sampleRate, band)}
	half := len(a.taps) / 2
	a.length = transformLength(samples + 2*half)
	wrapped := make([]complex128, a.length)
	for i, h := range a.taps {
		wrapped[(i-half+a.length)%a.length] += h
	}
	a.response = fourier.NewCmplxFFT(a.length).Coefficients(nil, wrapped)
	for i := range a.response {
		// The inverse transform is not normalised.
		a.response[i] /= complex(float64(a.length), 0)
	}
	return a, nil
}

// maxHalf limits the length of the filter if the pass band begins at a very low frequency.
const maxHalf = 4096

// designTaps returns the complex FIR. The Blackman window makes an edge 5.5/taps of the sample
// rate wide. The lower edge lies at Low, and its half-width must not exceed Low.
func designTaps(sampleRate float64, band Band) []complex128 {
	half := int(math.Ceil(5.5 / 4 * sampleRate / band.Low))
	half = min(half, maxHalf)
	taps := make([]complex128, 2*half+1)
	blackman := window.Blackman(len(taps))
	low, high := band.Low/sampleRate, band.High/sampleRate
	for i := range taps {
		// Twice the integral of exp(2πi·f·n) from low to high.
		n := float64(i - half)
		centre, width := (low+high)/2, high-low
		sinc := 1.0
		if n != 0 {
			sinc = math.Sin(math.Pi*width*n) / (math.Pi * width * n)
		}
		taps[i] = complex(2*width*sinc*blackman[i], 0) * cmplx.Exp(complex(0, 2*math.Pi*centre*n))
	}
	return taps
}

// transformLength returns the smallest product of powers of 2, 3 and 5, for
// which the transform is fast, that is at least n.
func transformLength(n int) int {
	for ; ; n++ {
		m := n
		for _, factor := range [...]int{2, 3, 5} {
			for m%factor == 0 {
				m /= factor
			}
		}
		if m == 1 {
			return n
		}
	}
}

// analyticScratch is the memory in which one goroutine transforms traces.
type analyticScratch struct {
	forward  *fourier.FFT
	inverse  *fourier.CmplxFFT
	trace    []float64
	spectrum []complex128
	signal   []complex128
}

func (a *Analytic) newScratch() *analyticScratch {
	return &analyticScratch{
		forward:  fourier.NewFFT(a.length),
		inverse:  fourier.NewCmplxFFT(a.length),
		trace:    make([]float64, a.length),
		spectrum: make([]complex128, a.length),
		signal:   make([]complex128, a.length),
	}
}

// Transform writes the analytic signal of src to dst. Both have the number of samples that
// [NewAnalytic] was given; another number is an error. A sample that is not finite, or whose
// modulus is above 1e28, is an error too, and dst is then undefined.
func (a *Analytic) Transform(dst []complex64, src []float32) error {
	if len(dst) != a.samples || len(src) != a.samples {
		return fmt.Errorf("tfm: analytic signal of %d samples into %d: want %d", len(src), len(dst), a.samples)
	}
	scratch, ok := a.scratches.Get().(*analyticScratch)
	if !ok {
		scratch = a.newScratch()
	}
	defer a.scratches.Put(scratch)
	for i, v := range src {
		scratch.trace[i] = float64(v)
	}
	if err := a.transform(scratch); err != nil {
		return err
	}
	for i, v := range scratch.signal[:a.samples] {
		dst[i] = complex64(v)
	}
	return nil
}

// transform computes scratch.signal from the first samples of scratch.trace,
// which it overwrites.
func (a *Analytic) transform(s *analyticScratch) error {
	trace := s.trace[:a.samples]
	sum := 0.0
	for _, v := range trace {
		sum += v
		if !(math.Abs(v) <= maxSample) {
			return badSample(trace)
		}
	}
	mean := sum / float64(len(trace))
	for i := range trace {
		trace[i] -= mean
	}
	clear(s.trace[a.samples:])
	n := a.length
	s.forward.Coefficients(s.spectrum[:n/2+1], s.trace)
	// The other half of the spectrum of a real trace is the conjugate of this one. The filter
	// passes almost nothing there. The small rest keeps the impulse response of the filter finite.
	for k := 1; k <= (n-1)/2; k++ {
		s.spectrum[n-k] = cmplx.Conj(s.spectrum[k]) * a.response[n-k]
	}
	for k, r := range a.response[:n/2+1] {
		s.spectrum[k] *= r
	}
	s.inverse.Sequence(s.signal, s.spectrum)
	return nil
}

// maxSample bounds the samples, so that no sum of them overflows a float32.
const maxSample = 1e28

// badSample names the sample that is not finite, or too large.
func badSample[S float32 | float64](trace []S) error {
	for k, v := range trace {
		if !(math.Abs(float64(v)) <= maxSample) {
			return fmt.Errorf("tfm: sample %d is %.4g: want a finite value of %g at most", k, v, float64(maxSample))
		}
	}
	return nil
}
