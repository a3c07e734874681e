// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// transformSource computes and packs the traces of source i.
func (s *Scratch) transformSource(worker, i int) {
	if s.ctx.Err() != nil {
		return
	}
	w, err := s.workers[worker], error(nil)
	if s.separate {
		err = w.makeTraces(i)
	} else {
		err = w.makeTrace(i)
	}
	if err != nil {
		s.fail(i, err)
		return
	}
	w.findClipped(i)
}

// makeTrace makes trace i of all views, whose pairs are summed before the transform.
func (w *worker) makeTrace(i int) error {
	dst, packed := w.target(i)
	peak, err := w.transformTrace(dst, i, w.plan.traces[i], w.reads[i])
	if err != nil || packed {
		return err
	}
	if len(w.views) > 1 {
		peak = 0 // each view reads other samples
	}
	for _, v := range w.views {
		v.pack(i, dst, peak)
	}
	return nil
}

// pack packs the analytic signal of trace i of v. If peak is not 0, it is the peak of what v reads.
func (v *viewScratch) pack(i int, signal planes, peak float32) {
	if n := v.plan.samples; !v.borrows {
		v.frames[0].pack(i, signal.re[:n], signal.im[:n], peak)
	}
}

// target returns where the filter writes trace i, and whether that is where the kernel reads it.
func (w *worker) target(i int) (dst planes, packed bool) {
	if len(w.views) > 1 || w.plan.direct == nil {
		return w.total, false
	}
	dst = w.views[0].frames[0].target(i)
	if last := w.reads[i][0] + w.plan.direct.outputs(w.reads[i]); len(dst.re) == 0 || last > len(dst.re) {
		return w.total, false
	}
	return dst, true
}

// makeTraces makes the traces of all views from source i. It transforms each pair once.
func (w *worker) makeTraces(i int) error {
	source := w.sources[i]
	for k, pair := range source.pairs[:source.count] {
		t := traceSum{terms: [2]term{{pair: pair, weight: w.plan.weight(pair)}}, count: 1}
		if _, err := w.transformTrace(w.channels[k], i, t, w.reads[i]); err != nil {
			return err
		}
	}
	if err := w.packFolded(i); err != nil {
		return err
	}
	for _, v := range w.views {
		if w.folded(v) {
			continue
		}
		traces, count := v.traces(i, source)
		for k, trace := range traces[:count] {
			channels := w.channels[k : k+1]
			if count == 1 {
				channels = w.channels[:source.count]
			}
			if err := w.packTrace(v, trace, channels, w.reads[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// packFolded packs the trace of source i of all folded views.
func (w *worker) packFolded(i int) error {
	made := false
	for _, v := range w.views {
		if !w.folded(v) {
			continue
		}
		if !made {
			if err := w.fold(i, v.plan.traces[i]); err != nil {
				return err
			}
			made = true
		}
		v.pack(i, w.total, 0)
	}
	return nil
}

// fold sets w.total to t, the sum of the pairs of source i. Where the pairs are known it adds
// them. Elsewhere it transforms their sum, once for both.
func (w *worker) fold(i int, t traceSum) error {
	known, want := w.reads[i], w.foldReads[i]
	for _, part := range [][2]int{{want[0], min(want[1], known[0])}, {max(want[0], known[1]), want[1]}} {
		if part[0] < part[1] {
			if _, err := w.transformTrace(w.total, i, t, part); err != nil {
				return err
			}
		}
	}
	if from, to := max(want[0], known[0]), min(want[1], known[1]); from < to {
		w.addChannels(w.channels[:t.count], t, from, to)
	}
	return nil
}

// addChannels sets w.total to the sum of channels, the pairs of t, from sample from to sample
// to-1.
func (w *worker) addChannels(channels []planes, t traceSum, from, to int) {
	total := planes{w.total.re[from:to], w.total.im[from:to]}
	if t.terms[0].copies == 0 {
		clear(total.re)
		clear(total.im)
	} else {
		copy(total.re, channels[0].re[from:to])
		copy(total.im, channels[0].im[from:to])
		t.terms[0].copies--
	}
	for k, c := range channels {
		if copies := t.terms[k].copies; copies != 0 {
			vector.AddFloat32(total.re, c.re[from:to], copies)
			vector.AddFloat32(total.im, c.im[from:to], copies)
		}
	}
}

// packTrace packs a trace of a view, the sum of channels, and its functions for the coherence.
func (w *worker) packTrace(v *viewScratch, trace int, channels []planes, reads [2]int) error {
	if v.borrows {
		return nil
	}
	n, t := w.plan.samples, v.plan.traces[trace]
	from, to := reads[0], reads[1]
	total := channels[0]
	if len(channels) > 1 || t.terms[0].copies > 1 {
		total = w.total
		w.addChannels(channels, t, from, to)
	}
	v.pack(trace, total, 0)
	if v.plan.coherence == nil {
		return nil
	}
	functions := w.functions[:len(v.frames)-1]
	for _, f := range functions {
		clear(f.re[from:to])
		clear(f.im[from:to])
	}
	for k, c := range channels {
		if copies := t.terms[k].copies; copies != 0 {
			if err := v.plan.coherence.measure.add(functions, c, copies, from, to, w.total.re); err != nil {
				return err
			}
		}
	}
	for k, f := range functions {
		v.frames[1+k].pack(trace, f.re[:n], f.im[:n], v.plan.coherence.copies*v.plan.coherence.measure.bound(k))
	}
	return nil
}

// transformTrace writes at least the samples reads[0] to reads[1]-1 of the analytic signal of t to
// dst. The trace t is of source i. The peak is the peak of the real and imaginary parts of these
// samples, or 0 if it is not known.
func (w *worker) transformTrace(dst planes, i int, t traceSum, reads [2]int) (peak float32, err error) {
	p := w.plan
	if p.direct != nil {
		return w.transformDirect(dst, i, t, reads)
	}
	if w.int16s != nil {
		loadTerms(w.signal.trace, w.int16s, p.samples, t)
	} else {
		loadTerms(w.signal.trace, w.float32s, p.samples, t)
	}
	if err := p.analytic.transform(w.signal); err != nil {
		return 0, w.sampleError(t, err)
	}
	for k, v := range w.signal.signal[:p.samples] {
		dst.re[k], dst.im[k] = float32(real(v)), float32(imag(v))
	}
	return 0, nil
}

// transformDirect is transformTrace by direct convolution.
func (w *worker) transformDirect(dst planes, i int, t traceSum, reads [2]int) (peak float32, err error) {
	d := w.plan.direct
	if w.int16s == nil {
		err = d.loadFloat32(w.direct, w.float32s, t)
	} else {
		if peak, ok := d.transformInt16(w.direct, w.int16s, t, dst.re, dst.im, reads, w.parts[i]); ok {
			return peak, nil
		}
		err = d.loadInt16(w.direct, w.int16s, t, reads)
	}
	if err != nil {
		return 0, w.sampleError(t, err)
	}
	d.transform(w.direct, dst.re, dst.im, reads)
	return 0, nil
}

// loadTerms writes the weighted sum of the traces of t to dst.
func loadTerms[S int16 | float32](dst []float64, samples []S, n int, t traceSum) {
	dst = dst[:n]
	first := t.terms[0]
	for k, v := range samples[first.pair*n : (first.pair+1)*n] {
		dst[k] = first.weight * float64(v)
	}
	for _, term := range t.terms[1:t.count] {
		for k, v := range samples[term.pair*n : (term.pair+1)*n] {
			dst[k] += term.weight * float64(v)
		}
	}
}

// sampleError returns the error of the first sample of the terms of t that is not finite. If all
// are finite, as integers are, it returns err.
func (s *Scratch) sampleError(t traceSum, err error) error {
	if s.int16s != nil {
		return err
	}
	n := s.plan.samples
	for _, term := range t.terms[:t.count] {
		for k, v := range s.float32s[term.pair*n : (term.pair+1)*n] {
			if value := float64(v); math.IsNaN(value) || math.IsInf(value, 0) {
				return fmt.Errorf("tfm: %w", &fmc.SampleError{Index: term.pair, Pair: s.plan.pairs[term.pair], Sample: k, Value: v})
			}
		}
	}
	return err
}
