// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import "github.com/isochron-imaging/isochron/internal/vector"

// maxDirect is the largest number of taps for which convolution in assembly is faster than the
// transform. On the machine of the table in BENCHMARKS.md, for traces of 2,048 samples, a tap
// takes 0.05 µs with AVX-512 and 0.08 µs with AVX2, and the transform takes 110 µs.
const maxDirect = 1024

// direct computes analytic signals in single precision by direct convolution. It computes only the
// samples that an image reads.
type direct struct {
	samples int
	half    int
	taps    []complex64 // the last of the filter first
}

func newDirect(a *Analytic) *direct {
	d := &direct{samples: a.samples, half: len(a.taps) / 2, taps: make([]complex64, len(a.taps))}
	for i, h := range a.taps {
		d.taps[len(a.taps)-1-i] = complex64(h)
	}
	return d
}

// directBlock is the number of outputs that the convolution makes at a time.
const directBlock = 64

// directScratch is the scratch of one goroutine.
type directScratch struct {
	padded []float32 // the trace, between as many zeros as the filter reaches
	trace  []float32 // the trace in padded
}

func (d *direct) newScratch() *directScratch {
	s := &directScratch{padded: make([]float32, d.samples+2*d.half+directBlock)}
	s.trace = s.padded[d.half : d.half+d.samples]
	return s
}

// transform writes the samples from to to-1 of the analytic signal of s.trace to the same places of
// re and im. It changes s.trace. The lengths of re and im are the samples of a trace plus
// directBlock.
func (d *direct) transform(s *directScratch, re, im []float32, from, to int) error {
	if !(vector.Peak(s.trace) <= maxSample) {
		return badSample(s.trace)
	}
	vector.Shift(s.trace, float32(-vector.Sum(s.trace)/float64(d.samples)))
	n := (to - from + directBlock - 1) / directBlock * directBlock
	vector.ConvolveComplex(re[from:from+n], im[from:from+n], s.padded[from:from+n+len(d.taps)-1], d.taps)
	return nil
}
