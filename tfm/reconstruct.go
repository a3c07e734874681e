// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// Scratch is the memory in which a [Plan] reconstructs one frame after another.
// It must not be used by two calls at once.
type Scratch struct {
	plan    *Plan
	frame   frame
	clipped *clipMarks // nil unless the plan looks for clipping
	workers []*worker

	// The frame in hand. Its samples are in one of the two slices.
	float32s []float32
	int16s   []int16
	dst      *Image
	ctx      context.Context

	task    atomic.Int64 // the next task of the stage in hand
	group   sync.WaitGroup
	lock    sync.Mutex // guards what follows
	done    int        // tasks of the stage in hand
	failure error      // the first, by the number of its task
	failed  int        // that number
}

// worker is the scratch of one core.
type worker struct {
	*Scratch
	signal *analyticScratch
	direct *directScratch // in place of signal, if the plan has it
	re, im []float32      // the analytic signal of a trace
	adder  adder
	// The stages are stored as function values, because starting a goroutine on a method would
	// allocate.
	transform, level, delayAndSum func()
}

// NewScratch returns a scratch for frames of p. It works on as many cores as [Options.Workers]
// says; 0 stands for the value of runtime.GOMAXPROCS now.
func (p *Plan) NewScratch() *Scratch { return p.NewScratchOf(p.workers) }

// NewScratchOf is [Plan.NewScratch] for another number of cores than [Options.Workers]: for one
// core of several that image different frames at the same time. A number below 1 stands for the
// value of runtime.GOMAXPROCS now.
func (p *Plan) NewScratchOf(workers int) *Scratch {
	s := &Scratch{plan: p, frame: p.kernel.newFrame()}
	if p.clipping != nil {
		s.clipped = newClipMarks(p.clipping, len(p.traces))
	}
	for range parallel.Workers(max(workers, 0), math.MaxInt) {
		w := &worker{
			Scratch: s,
			re:      make([]float32, p.samples+directBlock),
			im:      make([]float32, p.samples+directBlock),
			adder:   s.frame.newAdder(),
		}
		if p.direct != nil {
			w.direct = p.direct.newScratch()
		} else {
			w.signal = p.analytic.newScratch()
		}
		w.transform, w.level, w.delayAndSum = w.transformTraces, w.levelTraces, w.sumTiles
		s.workers = append(s.workers, w)
	}
	return s
}

// Check returns an error if c is nil or a capture of other elements, events, pairs or times than the
// capture that p was made for. It does not look at samples.
func (p *Plan) Check(c *fmc.Capture) error {
	if c == nil {
		return errors.New("tfm: no capture: want one of the plan's layout")
	}
	return checkFrame(p.template, c)
}

// Image reconstructs one image of c. A capture of other elements, events, pairs or times than the
// capture that p was made for is an error. Image allocates an image and a scratch: a fast loop over frames
// keeps a [Scratch].
func (p *Plan) Image(ctx context.Context, c *fmc.Capture) (*Image, error) {
	if err := p.Check(c); err != nil {
		return nil, err
	}
	image := NewImage(p.grid)
	if err := p.NewScratch().Reconstruct(ctx, image, c.Data); err != nil {
		return nil, err
	}
	return image, nil
}

// Reconstruct writes the image of one frame to dst, an image of the grid of the plan. The value of
// a pixel is the sum, over all pairs, of the weighted analytic signal at the time of flight of the
// pixel. The samples are in the order of [fmc.Capture.Data]. Times outside the record, and pixels
// that a path does not reach, add zero. The States of dst tell which pixels these are.
//
// A sample that is not finite is a [*fmc.SampleError]. A sample above 1e28 in modulus after its
// weight is an error. When ctx ends early, its error is returned. After an error dst is undefined.
// The image has the same bits for any number of cores. Reconstruct allocates nothing, except the
// States of an image that has had none. The runtime of Go allocates a few hundred bytes for each
// goroutine in the first frames.
func (s *Scratch) Reconstruct(ctx context.Context, dst *Image, samples []float32) error {
	if err := s.check(dst, len(samples)); err != nil {
		return err
	}
	s.float32s, s.int16s = samples, nil
	return s.run(ctx, dst)
}

// ReconstructInt16 is [Scratch.Reconstruct] for 16-bit samples, as a digitiser delivers them.
func (s *Scratch) ReconstructInt16(ctx context.Context, dst *Image, samples []int16) error {
	if err := s.check(dst, len(samples)); err != nil {
		return err
	}
	s.float32s, s.int16s = nil, samples
	return s.run(ctx, dst)
}

// RoundingNoise returns the level of the noise that rounding to 16 bits has put into the last
// image, in dB relative to the given amplitude, which must be above 0. It is the root mean square
// of the noise at a pixel whose lookups all lie in the record, and an upper bound elsewhere. An
// echo that is not well above the noise is lost. The level is -Inf for [Single], and before the
// first image.
//
// The strongest sample that the image reads sets the scale of all samples. If this sample belongs
// to the echo of an interface, begin the grid behind the interface.
func (s *Scratch) RoundingNoise(reference float32) float64 {
	// The mean square error of a rounding is step²/12, and a sample may be rounded twice. Linear
	// interpolation keeps 2/3 of this error power on average. The powers of the real and imaginary
	// parts add up.
	variance := float64(len(s.plan.lookups)) * 2 * (2. / 3) * 2 / 12
	return 20 * math.Log10(s.frame.step()*math.Sqrt(variance)/float64(reference))
}

func (s *Scratch) check(dst *Image, samples int) error {
	p := s.plan
	if want := len(p.pairs) * p.samples; samples != want {
		return fmt.Errorf("tfm: frame of %d samples: want %d (%d pairs of %d)", samples, want, len(p.pairs), p.samples)
	}
	if dst == nil || dst.Grid != p.grid || len(dst.Data) != p.grid.Len() {
		return fmt.Errorf("tfm: image: want one of the plan's grid, as NewImage makes it")
	}
	return nil
}

// run does the stages of a frame, each on all workers.
func (s *Scratch) run(ctx context.Context, dst *Image) error {
	s.ctx, s.dst, s.failure = ctx, dst, nil
	states := dst.States
	dst.States = copied(states, s.plan.states)
	s.stage(func(w *worker) func() { return w.transform })
	if s.failure == nil && s.frame.needsLevel() {
		s.stage(func(w *worker) func() { return w.level })
	}
	if s.clipped != nil && s.clipped.any() && dst.States == nil {
		dst.States = slices.Grow(states[:0], len(dst.Data))[:len(dst.Data)]
		clear(dst.States)
	}
	if s.failure == nil {
		s.stage(func(w *worker) func() { return w.delayAndSum })
	}
	s.ctx, s.dst, s.float32s, s.int16s = nil, nil, nil, nil
	if s.failure != nil {
		return s.failure
	}
	return ctx.Err()
}

// stage does one stage on all workers. It starts goroutines itself and does not use [parallel.Do],
// because [parallel.Do] allocates and a frame must not allocate.
func (s *Scratch) stage(of func(*worker) func()) {
	s.task.Store(0)
	s.done = 0
	s.group.Add(len(s.workers))
	for _, w := range s.workers {
		go of(w)()
	}
	s.group.Wait()
}

// next returns the next task of count, and whether there is one.
func (s *Scratch) next(count int) (task int, ok bool) {
	task = int(s.task.Add(1)) - 1
	return task, task < count && s.ctx.Err() == nil
}

// transformTraces computes and packs the traces that the kernel reads.
func (w *worker) transformTraces() {
	defer w.group.Done()
	p := w.plan
	for {
		i, ok := w.next(len(p.traces))
		if !ok {
			return
		}
		if err := w.transformTrace(i); err != nil {
			w.fail(i, w.sampleError(p.traces[i], err))
			return
		}
		w.frame.pack(i, w.re[:p.samples], w.im[:p.samples])
		if w.clipped != nil {
			w.findClipped(i)
		}
	}
}

// transformTrace writes the analytic signal of trace i to re and im. It may write only the samples
// that the kernel reads.
func (w *worker) transformTrace(i int) error {
	p := w.plan
	if p.direct != nil {
		w.loadDirect(p.traces[i])
		from, to := p.kernel.reads(i)
		return p.direct.transform(w.direct, w.re, w.im, from, to)
	}
	if w.int16s != nil {
		loadTerms(w.signal.trace, w.int16s, p.samples, p.traces[i])
	} else {
		loadTerms(w.signal.trace, w.float32s, p.samples, p.traces[i])
	}
	if err := p.analytic.transform(w.signal); err != nil {
		return err
	}
	for k, v := range w.signal.signal[:p.samples] {
		w.re[k], w.im[k] = float32(real(v)), float32(imag(v))
	}
	return nil
}

// loadDirect is loadTerms for the direct convolution.
func (w *worker) loadDirect(t traceSum) {
	dst, n := w.direct.trace, w.plan.samples
	clear(dst)
	for _, term := range t.terms[:t.count] {
		if w.int16s != nil {
			vector.AddInt16(dst, w.int16s[term.pair*n:(term.pair+1)*n], float32(term.weight))
		} else {
			vector.AddFloat32(dst, w.float32s[term.pair*n:(term.pair+1)*n], float32(term.weight))
		}
	}
}

// levelTraces brings the traces to one scale.
func (w *worker) levelTraces() {
	defer w.group.Done()
	for {
		i, ok := w.next(len(w.plan.traces))
		if !ok {
			return
		}
		w.frame.level(i)
	}
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

// fail keeps the error of the task with the lowest number.
func (s *Scratch) fail(task int, err error) {
	s.lock.Lock()
	defer s.lock.Unlock()
	if s.failure == nil || task < s.failed {
		s.failure, s.failed = err, task
	}
}

// sumTiles delays and sums, tile after tile.
func (w *worker) sumTiles() {
	defer w.group.Done()
	p := w.plan
	for {
		i, ok := w.next(len(p.tiles))
		if !ok {
			return
		}
		w.adder.sum(w.dst.Data, i)
		if w.clipped != nil {
			w.markClipped(i)
		}
		w.report(len(p.tiles))
	}
}

// report tells the progress of the image of count tiles.
func (s *Scratch) report(count int) {
	if s.plan.progress == nil {
		return
	}
	s.lock.Lock()
	defer s.lock.Unlock()
	s.done++
	s.plan.progress(float64(s.done) / float64(count))
}
