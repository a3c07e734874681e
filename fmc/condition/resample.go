// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"gonum.org/v1/gonum/blas/blas32"
	"gonum.org/v1/gonum/dsp/window"
)

// Resampler changes the sample rate by an exact rational factor up/down, with band limitation. A
// factor up/1 interpolates, a factor 1/down decimates. Sample m of a result is the value of the
// record, as a band-limited function, at the time FirstSample + m·down/(up·SampleRate):
//
//	y[m] = Σ x[n]·g(m·down/up − n), g(τ) = c·sinc(c·τ)·w(τ).
//
// Here c is 0.9, or 0.9·up/down if that is less. The window w is a Blackman–Harris window (F. J.
// Harris, Proc. IEEE 66 (1978) 51) that ends 40 samples of the lower rate to either side. Each
// output is one polyphase branch of at least 80 coefficients, scaled so that constants are kept.
//
// Let N be half of the lower of the two sample rates. Tones up to 0.8·N keep their phase, and their
// amplitude to 0.001 dB. Tones from N on, which would fold into the result, are 100 dB down. The
// edge of the filter lies between, with half the amplitude at 0.9·N. An interpolated record
// reproduces the old samples only if the old record has no content above 0.8·N.
//
// A record of K samples gives ⌊(K−1)·up/down⌋ + 1 samples. The first sample keeps its time, and
// the last sample lies within the old record. Samples beyond the ends of the record are treated as
// zero.
//
// A Resampler is immutable and safe for concurrent use.
type Resampler struct {
	format
	to       format
	up, down int
	reach    int       // samples of the record to either side of an output
	taps     []float32 // branch after branch, 2·reach each
}

// NewResampler returns the resampler for captures like the given one. Up and down are 1 to 1,024
// each, after common factors are cancelled.
func NewResampler(like *fmc.Capture, up, down int) (*Resampler, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	if up < 1 || down < 1 {
		return nil, fmt.Errorf("condition: resampling by %d/%d: want factors of at least 1", up,
			down)
	}
	common := divisor(up, down)
	up, down = up/common, down/common
	if up > 1024 || down > 1024 {
		return nil, fmt.Errorf("condition: resampling by %d/%d: want factors up to 1024", up, down)
	}
	samples := int64(f.samples-1)*int64(up)/int64(down) + 1
	if limit := int64(math.MaxInt32 / len(f.pairs)); samples > limit {
		return nil, fmt.Errorf("condition: resampling to %d samples a trace: want at most %d",
			samples, limit)
	}
	to := f
	to.samples, to.rate = int(samples), f.rate*float64(up)/float64(down)
	if !number.Positive(to.rate) {
		return nil, fmt.Errorf("condition: resampling to %v Hz: want a finite value above 0",
			to.rate)
	}
	reach := (40*max(up, down) + up - 1) / up
	return &Resampler{f, to, up, down, reach, resamplingTaps(up, down, reach)}, nil
}

// divisor returns the greatest common divisor.
func divisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// resamplingTaps returns the branches for outputs at 0, 1/up, 2/up … after a sample of the record.
// Tap j of a branch weights the sample j+1−reach.
func resamplingTaps(up, down, reach int) []float32 {
	cutoff := 0.9 * min(1, float64(up)/float64(down))
	centre := reach*up - 1
	prototype := make([]float64, 2*centre+1)
	for i := range prototype {
		prototype[i] = number.Sinc(cutoff * float64(i-centre) / float64(up))
	}
	window.BlackmanHarris(prototype)
	taps := make([]float32, 0, up*2*reach)
	for phase := range up {
		branch, sum := make([]float64, 2*reach), 0.0
		for j := range branch {
			// One index lies beyond the prototype: the end of the window.
			if i := centre + phase + (reach-1-j)*up; i >= 0 {
				branch[j] = prototype[i]
				sum += branch[j]
			}
		}
		for _, h := range branch {
			taps = append(taps, float32(h/sum))
		}
	}
	return taps
}

// Resampled returns a new capture with the resampled traces of src. Array, Events and Pairs are
// shared.
func (r *Resampler) Resampled(src *fmc.Capture) (*fmc.Capture, error) {
	if err := r.check("src", src); err != nil {
		return nil, err
	}
	dst := *src
	dst.Samples, dst.SampleRate = r.to.samples, r.to.rate
	dst.Data = make([]float32, len(r.pairs)*r.to.samples)
	return &dst, r.Apply(&dst, src)
}

// Apply writes the resampled traces of src to dst. Dst must have the form of a capture from
// [Resampler.Resampled], and its Data must not overlap the Data of src. Apply allocates only if it
// fails. After an error the samples of dst are undefined.
func (r *Resampler) Apply(dst, src *fmc.Capture) error {
	if err := r.check("src", src); err != nil {
		return err
	}
	if err := r.to.check("dst", dst); err != nil {
		return err
	}
	if err := src.CheckSamples(); err != nil {
		return err
	}
	for p := range r.pairs {
		r.trace(dst.Trace(p), src.Trace(p))
	}
	// The record may be larger between its samples than at its samples, and leave the range of
	// float32.
	return dst.CheckSamples()
}

func (r *Resampler) trace(dst, src []float32) {
	whole, part := r.down/r.up, r.down%r.up
	base, phase := 0, 0 // the output lies phase/up after sample base
	for m := range dst {
		branch := r.taps[phase*2*r.reach : (phase+1)*2*r.reach]
		first := base + 1 - r.reach
		from, to := max(first, 0), min(first+len(branch), len(src))
		dst[m] = blas32.Dot(
			blas32.Vector{N: to - from, Inc: 1, Data: src[from:to]},
			blas32.Vector{N: to - from, Inc: 1, Data: branch[from-first : to-first]},
		)
		base, phase = base+whole, phase+part
		if phase >= r.up {
			base, phase = base+1, phase-r.up
		}
	}
}
