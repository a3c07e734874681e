// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/internal/vector"
)

// maxDirect is the largest number of taps for which convolution in assembly is faster than the
// transform. On the machine of the table in BENCHMARKS.md, for traces of 2,048 samples, a tap
// takes 0.05 µs with AVX-512 and 0.08 µs with AVX2, and the transform takes 110 µs.
const maxDirect = 1024

// direct computes analytic signals in single precision by direct convolution. It computes only the
// samples that an image reads.
type direct struct {
	samples int
	filter  *vector.Hermitian
}

func newDirect(a *Analytic) *direct {
	taps := a.taps[len(a.taps)/2:]
	last := len(taps) - 1
	for last > 0 && cmplx.Abs(taps[last]) < 1e-12*cmplx.Abs(taps[0]) {
		last-- // the window is zero at its ends
	}
	half := make([]complex64, last+1)
	for j := range half {
		half[j] = complex64(taps[j])
	}
	return &direct{a.samples, vector.NewHermitian(half)}
}

// directBlock is the number of outputs that the convolution makes at a time.
const directBlock = vector.HermitianBlock

// directScratch is the scratch of one goroutine.
type directScratch struct {
	padded []float32 // the trace, between as many zeros as the filter reaches
	trace  []float32 // the trace in padded
	spare  []float32 // of the filter
}

func (d *direct) newScratch() *directScratch {
	half := d.filter.Half()
	s := &directScratch{
		padded: make([]float32, d.samples+2*half+directBlock),
		spare:  make([]float32, d.filter.Spare(d.samples+directBlock)),
	}
	s.trace = s.padded[half : half+d.samples]
	return s
}

// loadInt16 sets s.trace to the weighted sum of the traces of t, without its mean, where the signal
// from reads[0] to reads[1]-1 depends on it. The bits are those of loadFloat32.
func (d *direct) loadInt16(s *directScratch, samples []int16, t traceSum, reads [2]int) error {
	n, sum, whole := d.samples, 0.0, true
	trace := func(k int) []int16 { return samples[t.terms[k].pair*n:][:n] }
	for k, term := range t.terms[:t.count] {
		if whole = whole && exact(term.weight); whole {
			sum += term.weight * float64(vector.SumInt16(trace(k)))
		}
	}
	if !whole {
		clear(s.trace)
		for k, term := range t.terms[:t.count] {
			vector.AddInt16(s.trace, trace(k), float32(term.weight))
		}
		return d.centre(s)
	}
	from := max(0, reads[0]-d.filter.Half())
	to := min(n, reads[0]+d.outputs(reads)+d.filter.Half())
	dst, offset, first := s.trace[from:to], float32(-sum/float64(n)), float32(t.terms[0].weight)
	if t.count == 1 {
		vector.SetInt16(dst, trace(0)[from:to], first, offset)
		return nil
	}
	vector.SetInt16(dst, trace(0)[from:to], first, 0)
	vector.AddInt16(dst, trace(1)[from:to], float32(t.terms[1].weight))
	vector.Shift(dst, offset)
	return nil
}

// exact reports whether single precision holds all products of a weight and 16 bits, and the sums of
// two products.
func exact(weight float64) bool { return weight == math.Trunc(weight) && math.Abs(weight) <= 1<<7 }

// loadFloat32 sets s.trace to the weighted sum of the traces of t, without its mean.
func (d *direct) loadFloat32(s *directScratch, samples []float32, t traceSum) error {
	n := d.samples
	clear(s.trace)
	for _, term := range t.terms[:t.count] {
		vector.AddFloat32(s.trace, samples[term.pair*n:(term.pair+1)*n], float32(term.weight))
	}
	return d.centre(s)
}

// centre subtracts the mean of s.trace.
func (d *direct) centre(s *directScratch) error {
	if !(vector.Peak(s.trace) <= maxSample) {
		return badSample(s.trace)
	}
	vector.Shift(s.trace, float32(-vector.Sum(s.trace)/float64(d.samples)))
	return nil
}

// outputs returns how many samples transform writes.
func (d *direct) outputs(reads [2]int) int {
	return (reads[1] - reads[0] + directBlock - 1) / directBlock * directBlock
}

// transform writes the samples reads[0] to reads[1]-1 of the analytic signal of s.trace to the same
// places of re and im. It writes whole blocks: up to directBlock-1 samples more.
func (d *direct) transform(s *directScratch, re, im []float32, reads [2]int) {
	from, n := reads[0], d.outputs(reads)
	to := from + n
	d.filter.Convolve(re[from:to], im[from:to], s.padded[from:to+2*d.filter.Half()], s.spare[:d.filter.Spare(n)])
}
