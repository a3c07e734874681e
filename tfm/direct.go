// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/internal/vector"
)

// maxDirect returns the largest number of taps for which convolution is faster than the transform.
// On the machine of the table in BENCHMARKS.md, for traces of 2,048 samples, a tap takes 0.04 µs
// with AVX-512, 0.06 µs with AVX2 and 0.5 µs in plain Go. The transform takes 150 µs.
func maxDirect() int {
	if vector.Form() == "plain" {
		return 256
	}
	return 1024
}

// direct computes analytic signals in single precision by direct convolution. It computes only the
// samples that an image reads. Traces of 14 bits, and the sums of two of them, are filtered by
// integers, unless integers is nil or their signal is small.
type direct struct {
	samples  int
	filter   *vector.Hermitian
	integers *vector.HermitianInt16
	// least is the least peak of a signal, as a share of the peak of the samples it depends on, for
	// which rounded taps are precise enough. A smaller signal lies below hum, or beside the echo of
	// an interface that the image does not read. The error of rounded taps grows with the larger
	// peak.
	least float64
}

func newDirect(a *Analytic, p Precision) *direct {
	taps := a.taps[len(a.taps)/2:]
	last := len(taps) - 1
	for last > 0 && cmplx.Abs(taps[last]) < 1e-12*cmplx.Abs(taps[0]) {
		last-- // the window is zero at its ends
	}
	half := make([]complex64, last+1)
	for j := range half {
		half[j] = complex64(taps[j])
	}
	d := &direct{samples: a.samples, filter: vector.NewHermitian(half)}
	if h := vector.NewHermitianInt16(half); p == Fixed16 && h.Fast() {
		worst, noise := responseError(h, half, a.high)
		if worst <= maxResponseError && noise <= maxNoiseError {
			d.integers, d.least = h, worst/maxSignalError
		}
	}
	return d
}

// Taps are rounded to integers if this changes the response of the filter little enough: by at most
// maxResponseError at any frequency up to the end of the pass band, 78 dB below the band, and by a
// root mean square of maxNoiseError at all frequencies, which white noise meets. A signal may change
// by maxSignalError of its peak.
const (
	maxResponseError = 1.25e-4
	maxNoiseError    = 8e-5
	maxSignalError   = 5e-4
)

// responseError returns how much the rounding of taps changes the response: the largest change at
// frequencies up to high, in cycles a sample, and the root mean square at all frequencies.
func responseError(h *vector.HermitianInt16, taps []complex64, high float64) (worst, noise float64) {
	steps := 4 * len(taps)
	turns := make([]complex128, steps)
	for i := range turns {
		turns[i] = cmplx.Rect(1, 2*math.Pi*float64(i)/float64(steps))
	}
	for f := range turns {
		// A pair of taps ±j adds twice the real part of h[j]·exp(-2πi·f·j).
		change := real(h.Tap(0)) - float64(real(taps[0]))
		for j, tap := range taps[1:] {
			d, turn := h.Tap(j+1)-complex128(tap), turns[(j+1)*f%steps]
			change += 2 * (real(d)*real(turn) + imag(d)*imag(turn))
		}
		if float64(min(f, steps-f)) <= high*float64(steps) {
			worst = max(worst, math.Abs(change))
		}
		noise += change * change / float64(steps)
	}
	return worst, math.Sqrt(noise)
}

// directBlock is the number of outputs that the convolution makes at a time.
const directBlock = vector.HermitianBlock

// directScratch is the scratch of one goroutine.
type directScratch struct {
	padded []float32 // the trace, between as many zeros as the filter reaches
	trace  []float32 // the trace in padded
	spare  []float32 // of the filter

	// Of the filter in integers.
	paddedInts []int16
	ints       []int16 // the trace in paddedInts
	spareInts  []int16
}

func (d *direct) newScratch() *directScratch {
	half := d.filter.Half()
	s := &directScratch{
		padded: make([]float32, d.samples+2*half+directBlock),
		spare:  make([]float32, d.filter.Spare(d.samples+directBlock)),
	}
	s.trace = s.padded[half : half+d.samples]
	if h := d.integers; h != nil {
		s.paddedInts = make([]int16, d.samples+2*h.Half()+directBlock)
		s.ints = s.paddedInts[h.Half():][:d.samples]
		s.spareInts = make([]int16, h.Spare(d.samples+directBlock))
	}
	return s
}

// of returns the samples of a pair.
func (d *direct) of(samples []int16, pair int) []int16 { return samples[pair*d.samples:][:d.samples] }

// mean returns the mean of the weighted sum of the traces of t, if all weights are exact.
func (d *direct) mean(samples []int16, t traceSum) (mean float64, ok bool) {
	for _, term := range t.terms[:t.count] {
		if !exact(term.weight) {
			return 0, false
		}
		mean += term.weight * float64(vector.SumInt16(d.of(samples, term.pair)))
	}
	return mean / float64(d.samples), true
}

// loadInt16 sets s.trace to the weighted sum of the traces of t, without its mean, where the
// signal from reads[0] to reads[1]-1 depends on it. The bits are those of loadFloat32.
func (d *direct) loadInt16(s *directScratch, samples []int16, t traceSum, reads [2]int) error {
	mean, ok := d.mean(samples, t)
	if !ok {
		clear(s.trace)
		for _, term := range t.terms[:t.count] {
			vector.AddInt16(s.trace, d.of(samples, term.pair), float32(term.weight))
		}
		return d.centre(s, vector.Sum(s.trace), vector.Peak(s.trace))
	}
	from, to := d.needs(reads)
	dst, offset, first := s.trace[from:to], float32(-mean), t.terms[0]
	if t.count == 1 {
		vector.SetInt16(dst, d.of(samples, first.pair)[from:to], float32(first.weight), offset)
		return nil
	}
	vector.SetInt16(dst, d.of(samples, first.pair)[from:to], float32(first.weight), 0)
	vector.AddInt16(dst, d.of(samples, t.terms[1].pair)[from:to], float32(t.terms[1].weight))
	vector.Shift(dst, offset)
	return nil
}

// needs returns the range of the samples of a trace that the signal from reads[0] to reads[1]-1
// depends on.
func (d *direct) needs(reads [2]int) (from, to int) {
	half := d.filter.Half()
	return max(0, reads[0]-half), min(d.samples, reads[0]+d.outputs(reads)+half)
}

// exact reports whether single precision holds all products of a weight and 16 bits, and the sums
// of two products.
func exact(weight float64) bool { return weight == math.Trunc(weight) && math.Abs(weight) <= 1<<7 }

// loadFloat32 sets s.trace to the weighted sum of the traces of t, without its mean.
func (d *direct) loadFloat32(s *directScratch, samples []float32, t traceSum) error {
	trace := func(k int) []float32 { return samples[t.terms[k].pair*d.samples:][:d.samples] }
	sum, peak := vector.Load(s.trace, trace(0), float32(t.terms[0].weight))
	if t.count > 1 {
		vector.AddFloat32(s.trace, trace(1), float32(t.terms[1].weight))
		sum, peak = vector.Sum(s.trace), vector.Peak(s.trace)
	}
	return d.centre(s, sum, peak)
}

// centre subtracts the mean of s.trace, whose sum and peak are given.
func (d *direct) centre(s *directScratch, sum float64, peak float32) error {
	if !(peak <= maxSample) {
		return badSample(s.trace)
	}
	vector.Shift(s.trace, float32(-sum/float64(d.samples)))
	return nil
}

// outputs returns how many samples transform writes.
func (d *direct) outputs(reads [2]int) int {
	return (reads[1] - reads[0] + directBlock - 1) / directBlock * directBlock
}

// transform writes the samples reads[0] to reads[1]-1 of the analytic signal of s.trace to the
// same places of re and im. It writes whole blocks: up to directBlock-1 samples more.
func (d *direct) transform(s *directScratch, re, im []float32, reads [2]int) {
	from, n := reads[0], d.outputs(reads)
	to := from + n
	d.filter.Convolve(re[from:to], im[from:to], s.padded[from:to+2*d.filter.Half()], s.spare[:d.filter.Spare(n)])
}

// transformInt16 writes what loadInt16 and transform write, in integers. It returns the peak of the
// real and imaginary parts from reads[0] to reads[1]-1. It reports false if the signal may be off
// by more than maxSignalError of its peak, in all of reads or where one of the parts lies in reads.
// It also reports false without a filter in integers, and where round does.
func (d *direct) transformInt16(s *directScratch, samples []int16, t traceSum, re, im []float32, reads [2]int, parts [][2]int) (peak float32, ok bool) {
	if d.integers == nil {
		return 0, false
	}
	r, ok := d.round(s, samples, t, reads)
	if !ok {
		return 0, false
	}
	h, from, n := d.integers, reads[0], d.outputs(reads)
	to := from + n
	h.Convolve(re[from:to], im[from:to], s.paddedInts[from:to+2*h.Half()], s.spareInts[:h.Spare(n)], 1/r.scale)
	peak = peakOf(re, im, reads)
	if !d.precise(peak, r) {
		return 0, false
	}
	for _, part := range parts {
		part = [2]int{max(part[0], reads[0]), min(part[1], reads[1])}
		if part[0] >= part[1] {
			continue
		}
		own := peakOf(re, im, part)
		if d.precise(own, r) {
			continue // also if the part depends on smaller samples only
		}
		half, near := d.filter.Half(), r
		low, high := vector.RangeInt16(s.ints[max(0, part[0]-half):min(d.samples, part[1]+half)])
		near.most = max(float64(high), -float64(low)) / r.scale
		if !d.precise(own, near) {
			return 0, false
		}
	}
	return peak, true
}

// peakOf returns the peak of both planes of a signal from reads[0] to reads[1]-1.
func peakOf(re, im []float32, reads [2]int) float32 {
	return max(vector.Peak(re[reads[0]:reads[1]]), vector.Peak(im[reads[0]:reads[1]]))
}

// rounding says how samples were rounded to integers.
type rounding struct {
	scale  float64 // of the integers
	halved bool    // each sample has lost a bit
	most   float64 // largest magnitude of a sample, before scale
}

// leastHalved is the least peak of a signal in integers whose samples have lost a bit. Their rounding
// changes a signal by up to half of an integer, so that less would break maxSignalError.
const leastHalved = 0.3 * vector.MaxHermitianInt16

// precise reports whether integers are precise enough for a signal of the given peak that depends on
// samples rounded as r says.
func (d *direct) precise(peak float32, r rounding) bool {
	return float64(peak) >= d.least*r.most && !(r.halved && float64(peak)*r.scale < leastHalved)
}

// round sets s.ints to the rounded samples that loadInt16 would load, times a scale: the largest
// power of 2 for which all samples fit. So samples of 14 bits stay exact, but for their mean. It
// reports false if samples would lose more than 1 bit, or if a weight is not exact.
func (d *direct) round(s *directScratch, samples []int16, t traceSum, reads [2]int) (r rounding, ok bool) {
	mean, ok := d.mean(samples, t)
	if !ok {
		return r, false
	}
	from, to := d.needs(reads)
	low, high := -mean, -mean
	for _, term := range t.terms[:t.count] {
		l, h := vector.RangeInt16(d.of(samples, term.pair)[from:to])
		low += min(term.weight*float64(l), term.weight*float64(h))
		high += max(term.weight*float64(l), term.weight*float64(h))
	}
	r.most = max(high, -low)
	_, exponent := math.Frexp(r.most / vector.MaxHermitianInt16)
	r.scale = math.Ldexp(1, -exponent)
	// Where products with the scale are not whole, twice the sum is halved.
	factors := [2]float64{r.scale * t.terms[0].weight, r.scale * t.terms[1].weight}
	whole := func() bool { return factors[0] == math.Trunc(factors[0]) && factors[1] == math.Trunc(factors[1]) }
	offset := -r.scale * mean
	if r.halved = !whole(); r.halved {
		factors[0], factors[1], offset = 2*factors[0], 2*factors[1], 2*offset
		if !whole() {
			return r, false
		}
	}
	wrapped := func(v float64) int16 { return int16(int64(math.Round(v))) }
	a, b := d.of(samples, t.terms[0].pair), d.of(samples, t.terms[t.count-1].pair)
	vector.Combine(s.ints[from:to], a[from:to], b[from:to], wrapped(factors[0]), wrapped(factors[1]), wrapped(offset), r.halved)
	return r, true
}
