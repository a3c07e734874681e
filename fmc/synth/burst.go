// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/mat"
)

// grid is a coarse grid of complex samples. Its samples lie stride samples of the record apart, as
// many as the band of the pulse needs. A burst is the sum of all echoes in a slot, a fixed piece of
// time. The bursts are transformed to the coarse grid. Then one interpolation for each trace gives
// the samples of the record.
//
// The slot of an echo depends on its time only. So a sum of flaws is the sum of their echoes,
// except for rounding.
type grid struct {
	stride  int // samples of the record from coarse sample to coarse sample
	length  int // of the transform of a burst, in coarse samples
	before  int // from the start of a transform to its slot, in coarse samples
	first   int // the first slot
	slots   int // number of slots
	samples int // of the record
	rate    float64
	// taps holds the filter of each sample of the record between two coarse samples, from the
	// second one on: the first one lies on a coarse sample.
	taps [][tapCount]complex128
}

const (
	// slotLength is the length of a slot in coarse samples. Longer slots need fewer transforms, but
	// longer ones: 6 and 18 take 10 % more time for a weld.
	slotLength = 10
	// oversampling is the least ratio of the coarse sample rate and the width of the band. The
	// filters need some distance between the band and its repetitions.
	oversampling = 1.25
	// tapCount is the number of coarse samples in a filter: half of them on each side.
	tapCount = 10
)

// newGrid returns the grid for a record of so many samples at a rate in Hz. An echo lasts from
// before to after its time, in s.
func newGrid(p pulse, samples int, rate, before, after float64) grid {
	_, width := p.reach()
	band := min(p.centre+width, rate/2) - max(0, p.centre-width)
	g := grid{stride: max(1, int(rate/(oversampling*band))), samples: samples, rate: rate}
	coarse := rate / float64(g.stride)
	g.before = int(math.Ceil(before * coarse))
	g.length = smooth(g.before + slotLength + int(math.Ceil(after*coarse)) + 1)
	reached := (samples-1)/g.stride + 1 + tapCount/2 // beyond the last coarse sample of a filter
	g.first = floorDiv(g.before-g.length-tapCount/2, slotLength)
	g.slots = floorDiv(reached+g.before, slotLength) + 1 - g.first
	for k := 1; k < g.stride; k++ {
		g.taps = append(g.taps, newTaps(p, 1/coarse, float64(k)/rate))
	}
	return g
}

// floorDiv returns the quotient of a and b > 0, rounded down.
func floorDiv(a, b int) int { return int(math.Floor(float64(a) / float64(b))) }

// newTaps returns the filter for a time after coarse sample tapCount/2 - 1. It is the best linear
// estimate of a random signal with the power spectrum of the pulse, exp(-(f-fc)²/σ²), whose samples
// have errors of a negligible size. The covariance of two values at the distance t is the Fourier
// transform of the power spectrum, exp(-(πσt)²)·exp(2πi·fc·t).
func newTaps(p pulse, spacing, time float64) (taps [tapCount]complex128) {
	covariance := func(t float64) float64 { x := math.Pi * p.deviation * t; return math.Exp(-x * x) }
	among := mat.NewSymDense(tapCount, nil)
	toTime := mat.NewVecDense(tapCount, nil)
	away := func(i int) float64 { return time - float64(i-tapCount/2+1)*spacing }
	for i := range tapCount {
		toTime.SetVec(i, covariance(away(i)))
		for j := i; j < tapCount; j++ {
			among.SetSym(i, j, covariance(float64(i-j)*spacing))
		}
		among.SetSym(i, i, 1+negligible*negligible)
	}
	var factors mat.Cholesky
	var real mat.VecDense
	if !factors.Factorize(among) || factors.SolveVecTo(&real, toTime) != nil {
		panic("unreachable: a covariance with errors of samples is positive definite")
	}
	for i := range taps {
		taps[i] = cmplx.Rect(real.AtVec(i), 2*math.Pi*p.centre*away(i))
	}
	return taps
}

// sum adds the echoes of one trace. Make it with newSum.
type sum struct {
	*grid
	band      *band
	bursts    [][]complex128 // spectra, for each slot
	used      []bool         // for each slot
	transform *fourier.CmplxFFT
	bins      []complex128
	burst     []complex128
	coarse    []complex128 // samples, from tapCount/2 before the record on; conjugate
}

// newSum returns a sum without echoes.
func newSum(g *grid, b *band) *sum {
	s := &sum{
		grid: g, band: b, bursts: make([][]complex128, g.slots), used: make([]bool, g.slots),
		transform: fourier.NewCmplxFFT(g.length),
		bins:      make([]complex128, g.length), burst: make([]complex128, g.length),
		coarse: make([]complex128, (g.samples-1)/g.stride+1+tapCount),
	}
	for i := range s.bursts {
		s.bursts[i] = make([]complex128, len(b.frequencies))
	}
	return s
}

// start returns the coarse sample at which the transform of a slot starts.
func (s *sum) start(slot int) int { return (s.first+slot)*slotLength - s.before }

// add adds an echo at a time after the first sample, in s: its spectrum times the weights, if there
// are any, times the factor.
func (s *sum) add(spectrum, weights []complex128, factor, time float64) {
	at := time * s.rate / float64(s.stride)
	slot := int(math.Floor(at/slotLength)) - s.first
	if slot < 0 || slot >= s.slots {
		return // outside the record
	}
	burst := s.bursts[slot]
	if !s.used[slot] {
		s.used[slot] = true
		clear(burst)
	}
	phase, advance := s.band.turns(time - float64(s.start(slot)*s.stride)/s.rate)
	phase *= complex(factor, 0)
	if weights == nil {
		for k, v := range spectrum {
			burst[k] += v * phase
			phase *= advance
		}
		return
	}
	weights, burst = weights[:len(spectrum)], burst[:len(spectrum)]
	for k, v := range spectrum {
		burst[k] += v * (weights[k] * phase)
		phase *= advance
	}
}

// finish adds the echoes to the samples of the record, and empties the sum.
func (s *sum) finish(signal []float64) {
	from, to := len(s.coarse), 0 // of the coarse samples that are not 0
	for slot, used := range s.used {
		if !used {
			continue
		}
		s.used[slot] = false
		start := s.start(slot) + tapCount/2
		first, last := max(0, start), min(start+s.length, len(s.coarse))
		if first >= last {
			continue
		}
		clear(s.bins)
		for k, v := range s.bursts[slot] {
			s.bins[(s.band.first+k)%s.length] += v * complex(s.band.pulse[k], 0)
		}
		s.transform.Coefficients(s.burst, s.bins)
		for k, v := range s.burst[first-start : last-start] {
			s.coarse[first+k] += v
		}
		from, to = min(from, first), max(to, last)
	}
	if from < to {
		s.interpolate(signal, from, to)
		clear(s.coarse[from:to])
	}
}

// interpolate adds the samples of the record that depend on the coarse samples from one to before
// another.
func (s *sum) interpolate(signal []float64, from, to int) {
	const half = tapCount / 2
	last := (len(signal)-1)/s.stride + 1
	for i := max(0, from-tapCount+1); i < min(last, to); i++ {
		out := signal[i*s.stride : min((i+1)*s.stride, len(signal))]
		near := (*[tapCount]complex128)(s.coarse[i+1:])
		out[0] += real(near[half-1])
		for p := range out[1:] {
			taps := &s.taps[p]
			var sum float64
			for q := range near {
				sum += real(taps[q])*real(near[q]) + imag(taps[q])*imag(near[q])
			}
			out[p+1] += sum
		}
	}
}
