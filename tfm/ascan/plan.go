// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Options modifies [NewPlan]. Nil stands for the zero value.
type Options struct {
	// Band is the pass band of the filter that makes the analytic signal, in Hz. The zero value
	// stands for [tfm.DefaultBand] of the array.
	Band tfm.Band
	// FullScale is the modulus of a sample at which the receiver clips, in the unit of the samples,
	// finite and above 0. Each frame is then searched for clipped samples ([Trace].Clipped). Search
	// raw samples only, because conditioning hides clipping. 0 stands for no search.
	FullScale float32
	// Workers is the largest number of goroutines that work at a time; 0 stands for all cores.
	Workers int
}

// Plan holds the delay laws of beams for captures of one geometry. It is immutable and safe for
// concurrent use.
type Plan struct {
	analytic *tfm.Analytic
	band     tfm.Band
	workers  int
	full     float32     // modulus of a clipped sample, 0 for no search
	like     fmc.Capture // without Data
	used     []int       // indices of the traces that a beam needs
	beams    []planned
}

// planned is a beam with its laws.
type planned struct {
	beam              Beam
	line              *Line
	transmit, receive *law
	terms             []term
	partial           [][2]int
}

// NewPlan prepares the A-scans of beams from captures like c: captures with the same array, pairs
// and times, with any Data. The Data of c may be nil. The laws are made from the times of flight through the set-up. The
// order of beams is kept.
//
// A capture of events is an error that wraps [fmc.ErrEvents]. An error of a beam names its index.
// An element without a ray to the focus is silent in a law. No element with a ray is an error. If
// ctx ends early, its error is returned.
func NewPlan(ctx context.Context, c *fmc.Capture, setup *wedge.Setup, beams []Beam, o *Options) (*Plan, error) {
	if err := c.ValidateTemplate(); err != nil {
		return nil, fmt.Errorf("ascan: %w", err)
	}
	if c.Events != nil {
		return nil, fmt.Errorf("ascan: beams from a capture: %w", fmc.ErrEvents)
	}
	if len(beams) == 0 {
		return nil, errors.New("ascan: no beams: want at least one")
	}
	if o == nil {
		o = new(Options)
	}
	if err := parallel.Check(o.Workers); err != nil {
		return nil, fmt.Errorf("ascan: %w", err)
	}
	if !(o.FullScale >= 0) || math.IsInf(float64(o.FullScale), 0) {
		return nil, fmt.Errorf("ascan: full scale %v: want a finite value above 0, or 0 for no search", o.FullScale)
	}
	p := &Plan{band: o.Band, workers: o.Workers, full: o.FullScale, like: *c, beams: make([]planned, len(beams))}
	if p.band == (tfm.Band{}) {
		p.band = tfm.DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
	}
	p.like.Data = nil
	p.like.Array.Elements = slices.Clone(c.Array.Elements)
	p.like.Pairs = slices.Clone(c.Pairs)
	var err error
	if p.analytic, err = tfm.NewAnalytic(c.Samples, c.SampleRate, p.band); err != nil {
		return nil, err
	}
	err = parallel.Do(ctx, len(beams), parallel.Options{Workers: o.Workers}, func() func(int) error {
		return func(i int) error {
			if err := p.add(ctx, setup, i, beams[i]); err != nil {
				return fmt.Errorf("ascan: beam %d: %w", i, err)
			}
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	p.findUsed()
	return p, nil
}

// add makes the laws of beam i.
func (p *Plan) add(ctx context.Context, setup *wedge.Setup, i int, b Beam) error {
	b, err := b.complete(len(p.like.Array.Elements))
	if err != nil {
		return err
	}
	t, err := newTracer(setup, b.Mode)
	if err != nil {
		return err
	}
	end := p.like.Time(p.like.Samples - 1)
	if !(end > 0) {
		return fmt.Errorf("the record ends at %v s: want an end after the transmitted pulse, time 0", end)
	}
	// The micrometre keeps a focus at the end of the line on the line, in spite of rounding.
	length := max(t.speed*end/2, b.Transmit.SoundPath, b.Receive.SoundPath) + 1e-6
	line, err := t.line(b.centre(p.like.Array), b.Angle, length)
	if err != nil {
		return err
	}
	m := &maker{
		tracer: t, line: line, beam: b, places: b.places(p.like.Array),
		first: p.like.FirstSample, rate: p.like.SampleRate, samples: p.like.Samples,
	}
	planned := planned{beam: b, line: line, terms: terms(&p.like, b)}
	if len(planned.terms) == 0 {
		return errors.New("the capture has no trace between two elements of the aperture")
	}
	if planned.transmit, err = m.law(ctx, b.Transmit); err != nil {
		return fmt.Errorf("transmission: %w", err)
	}
	planned.receive = planned.transmit
	if b.Receive != b.Transmit {
		if planned.receive, err = m.law(ctx, b.Receive); err != nil {
			return fmt.Errorf("reception: %w", err)
		}
	}
	planned.findPartial(p.like.Samples)
	p.beams[i] = planned
	return nil
}

// findUsed lists the traces that a beam needs.
func (p *Plan) findUsed() {
	used := make([]bool, len(p.like.Pairs))
	for _, b := range p.beams {
		for _, t := range b.terms {
			used[t.trace] = true
		}
	}
	for i, u := range used {
		if u {
			p.used = append(p.used, i)
		}
	}
}

// findPartial lists the ranges of samples to which a trace does not contribute.
func (b *planned) findPartial(samples int) {
	for k := range samples {
		if !b.missing(k, samples) {
			continue
		}
		if n := len(b.partial); n > 0 && b.partial[n-1][1] == k {
			b.partial[n-1][1]++
		} else {
			b.partial = append(b.partial, [2]int{k, k + 1})
		}
	}
}

// missing reports whether a trace does not contribute to sample k.
func (b *planned) missing(k, samples int) bool {
	for _, t := range b.terms {
		at := float64(k) - b.transmit.at(t.tx, k) - b.receive.at(t.rx, k)
		if !(at >= 0 && at < float64(samples-1)) {
			return true
		}
	}
	return false
}

// Lines returns the axes of the beams. The caller must not change them.
func (p *Plan) Lines() []*Line {
	lines := make([]*Line, len(p.beams))
	for i, b := range p.beams {
		lines[i] = b.line
	}
	return lines
}

// Delays returns the delays of the fixed laws of a beam in s, for each of its elements. They are
// relative to the centre of the aperture: an element with a negative delay fires earlier. The delay
// of an element without a ray is NaN. A dynamic law has no fixed delays, and its result is nil. The
// delays may make an [fmc.Event] for an instrument. Delays panics if beam is not the index of a
// beam.
func (p *Plan) Delays(beam int) (transmit, receive []float64) {
	b := p.beams[beam]
	return b.transmit.seconds(p.like.SampleRate), b.receive.seconds(p.like.SampleRate)
}

// seconds returns the delays of a fixed law in s.
func (l *law) seconds(rate float64) []float64 {
	if l.mask != 0 {
		return nil
	}
	delays := make([]float64, len(l.delays))
	for i, d := range l.delays {
		delays[i] = d[0] / rate
	}
	return delays
}

// Traces returns the A-scans of all beams from one capture. A capture of another geometry than the
// capture that p was made for is an error. The memory is new: a loop over frames keeps a [Scratch].
func (p *Plan) Traces(ctx context.Context, c *fmc.Capture) ([]*Trace, error) {
	if c == nil {
		return nil, errors.New("ascan: no capture")
	}
	l := &p.like
	if c.Events != nil || c.Samples != l.Samples || c.SampleRate != l.SampleRate || c.FirstSample != l.FirstSample ||
		!slices.Equal(c.Pairs, l.Pairs) || !slices.Equal(c.Array.Elements, l.Array.Elements) {
		return nil, errors.New("ascan: capture of other elements, pairs or times than the plan: want a plan of its own")
	}
	return p.NewScratch().Traces(ctx, c.Data)
}

// Scratch is the memory in which a [Plan] makes the A-scans of one frame after another. It must not
// be used by two calls at once.
type Scratch struct {
	plan    *Plan
	signals [][]complex64 // for each pair, nil if no beam needs it
	clipped [][][2]int    // ranges of clipped samples for each pair
	marked  [][]bool      // samples of each beam that read clipped samples
	sums    [][]complex128
	traces  []*Trace
}

// NewScratch returns a scratch for frames of p.
func (p *Plan) NewScratch() *Scratch {
	s := &Scratch{plan: p, signals: make([][]complex64, len(p.like.Pairs)), clipped: make([][][2]int, len(p.like.Pairs))}
	for _, i := range p.used {
		s.signals[i] = make([]complex64, p.like.Samples)
	}
	for _, b := range p.beams {
		s.sums = append(s.sums, make([]complex128, p.like.Samples))
		s.marked = append(s.marked, make([]bool, p.like.Samples))
		s.traces = append(s.traces, &Trace{
			Beam: &b.beam, Line: b.line, Band: p.band,
			SampleRate: p.like.SampleRate, FirstSample: p.like.FirstSample,
			Analytic: make([]complex64, p.like.Samples), Partial: b.partial,
		})
	}
	return s
}

// Traces returns the A-scans of one frame, in the order of the beams. The samples are in the order
// of fmc.Capture.Data. The next call overwrites the samples of the A-scans. The A-scans have the
// same bits for any number of workers.
//
// A sample that is not finite is an error. If ctx ends early, its error is returned. After an error
// the samples of the A-scans are undefined.
func (s *Scratch) Traces(ctx context.Context, samples []float32) ([]*Trace, error) {
	p := s.plan
	if want := len(p.like.Pairs) * p.like.Samples; len(samples) != want {
		return nil, fmt.Errorf("ascan: %d samples: want %d, %d for each of %d pairs", len(samples), want, p.like.Samples, len(p.like.Pairs))
	}
	options := parallel.Options{Workers: p.workers}
	err := parallel.Do(ctx, len(p.used), options, func() func(int) error {
		return func(i int) error {
			pair := p.used[i]
			first := pair * p.like.Samples
			trace := samples[first : first+p.like.Samples]
			if err := p.analytic.Transform(s.signals[pair], trace); err != nil {
				return fmt.Errorf("ascan: pair %v: %w", p.like.Pairs[pair], err)
			}
			if p.full > 0 {
				s.clipped[pair] = clippedRuns(s.clipped[pair][:0], trace, p.full)
			}
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	err = parallel.Do(ctx, len(p.beams), options, func() func(int) error {
		return func(i int) error {
			s.sum(i)
			if p.full > 0 {
				s.mark(i)
			}
			return nil
		}
	})
	return s.traces, err
}

// sum makes the A-scan of beam i.
func (s *Scratch) sum(i int) {
	b, sum := &s.plan.beams[i], s.sums[i]
	clear(sum)
	for _, t := range b.terms {
		tx, rx := b.transmit.delays[t.tx], b.receive.delays[t.rx]
		if b.transmit.mask == 0 && b.receive.mask == 0 {
			addShifted(sum, s.signals[t.trace], tx[0]+rx[0], t.weight)
		} else {
			addDelayed(sum, s.signals[t.trace], tx, rx, b.transmit.mask, b.receive.mask, t.weight)
		}
	}
	for k, v := range sum {
		s.traces[i].Analytic[k] = complex64(v)
	}
}

// mark finds the samples of the A-scan of beam i that read clipped samples.
func (s *Scratch) mark(i int) {
	b, marked := &s.plan.beams[i], s.marked[i]
	clear(marked)
	for _, t := range b.terms {
		runs, tx, rx := s.clipped[t.trace], b.transmit.delays[t.tx], b.receive.delays[t.rx]
		switch {
		case len(runs) == 0 || t.weight == 0:
		case b.transmit.mask == 0 && b.receive.mask == 0:
			markShifted(marked, runs, tx[0]+rx[0])
		default:
			markDelayed(marked, runs, tx, rx, b.transmit.mask, b.receive.mask)
		}
	}
	s.traces[i].Clipped = markedRanges(marked)
}

// addShifted adds a signal times a weight, later by a delay in samples. Samples are interpolated
// linearly. A delay of NaN adds nothing.
func addShifted(sum []complex128, signal []complex64, delay, weight float64) {
	if !(math.Abs(delay) < float64(len(signal))) {
		return
	}
	whole := math.Floor(-delay)
	shift, share := int(whole), -delay-whole
	first, last := max(0, -shift), min(len(sum), len(signal)-1-shift)
	if first >= last {
		return
	}
	sum, signal = sum[first:last], signal[first+shift:last+shift+1]
	a, b := weight*(1-share), weight*share
	before := signal[0]
	for k, v := range signal[1:] {
		sum[k] += complex(a*float64(real(before))+b*float64(real(v)), a*float64(imag(before))+b*float64(imag(v)))
		before = v
	}
}

// addDelayed is [addShifted] for the sum of two delays, each of them with one value or with one
// value a sample.
func addDelayed(sum []complex128, signal []complex64, tx, rx []float64, txMask, rxMask int, weight float64) {
	last := float64(len(signal) - 1)
	for k := range sum {
		at := float64(k) - tx[k&txMask] - rx[k&rxMask]
		if !(at >= 0 && at < last) {
			continue
		}
		n := int(at)
		share := at - float64(n)
		a, b := signal[n], signal[n+1]
		re := float64(real(a)) + share*float64(real(b)-real(a))
		im := float64(imag(a)) + share*float64(imag(b)-imag(a))
		sum[k] += complex(weight*re, weight*im)
	}
}
