// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm/internal/portable"
)

// Scratch is the memory in which a [Plan] reconstructs one frame after another.
// It must not be used by two calls at once.
type Scratch struct {
	plan    *Plan
	packed  []portable.Sample
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
	signal *AnalyticScratch
	sum    []complex64
	// The stages as values: to start a goroutine on a method would allocate.
	transform, delayAndSum func()
}

// NewScratch returns a scratch for frames of p that works on all cores, as
// runtime.GOMAXPROCS says now.
func (p *Plan) NewScratch() *Scratch {
	s := &Scratch{
		plan:   p,
		packed: make([]portable.Sample, len(p.traces)*p.stride()),
	}
	for range runtime.GOMAXPROCS(0) {
		w := &worker{
			Scratch: s,
			signal:  p.analytic.NewScratch(),
			sum:     make([]complex64, tileRows*tileCols),
		}
		w.transform, w.delayAndSum = w.transformTraces, w.sumTiles
		s.workers = append(s.workers, w)
	}
	return s
}

// Image reconstructs one image of c, which must have the layout and the times of
// the capture that p was made for. It allocates; a loop over frames should keep
// a [Scratch].
func (p *Plan) Image(ctx context.Context, c *fmc.Capture) (*Image, error) {
	image := NewImage(p.grid)
	if err := p.NewScratch().Reconstruct(ctx, image, c.Data); err != nil {
		return nil, err
	}
	return image, nil
}

// Reconstruct writes the image of one frame to dst, of the plan's grid: for every
// pixel the sum, over all pairs, of the weighted analytic signal at the pixel's
// time of flight. The samples are in the order of [fmc.Capture.Data]. Times
// outside the record, and pixels that a path does not reach, add zero.
//
// A sample that is not finite is a [*fmc.SampleError]; when ctx ends early, its
// error is returned; dst is then undefined. The image is the same, bit for bit,
// for any number of cores. Reconstruct allocates nothing.
func (s *Scratch) Reconstruct(ctx context.Context, dst *Image, samples []float32) error {
	if err := s.check(dst, len(samples)); err != nil {
		return err
	}
	s.float32s, s.int16s = samples, nil
	return s.run(ctx, dst)
}

// ReconstructInt16 is [Scratch.Reconstruct] for samples as a digitiser delivers
// them.
func (s *Scratch) ReconstructInt16(ctx context.Context, dst *Image, samples []int16) error {
	if err := s.check(dst, len(samples)); err != nil {
		return err
	}
	s.float32s, s.int16s = nil, samples
	return s.run(ctx, dst)
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

// run does the two stages of a frame, each on all workers.
func (s *Scratch) run(ctx context.Context, dst *Image) error {
	s.ctx, s.dst, s.failure = ctx, dst, nil
	s.stage(func(w *worker) func() { return w.transform })
	if s.failure == nil {
		s.stage(func(w *worker) func() { return w.delayAndSum })
	}
	s.ctx, s.dst, s.float32s, s.int16s = nil, nil, nil, nil
	if s.failure != nil {
		return s.failure
	}
	return ctx.Err()
}

// stage does one stage on all workers.
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
		if w.int16s != nil {
			loadTerms(w.signal.trace, w.int16s, p.samples, p.traces[i])
		} else {
			loadTerms(w.signal.trace, w.float32s, p.samples, p.traces[i])
		}
		if err := p.analytic.transform(w.signal); err != nil {
			w.fail(i, w.sampleError(p.traces[i], err))
			return
		}
		portable.Pack(w.packedTrace(i), w.signal.signal[:p.samples], p.fraction)
	}
}

// loadTerms writes the weighted sum of the traces of t to dst.
func loadTerms[S int16 | float32](dst []float64, samples []S, n int, t trace) {
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

// sampleError returns the error of the first sample of the terms of t that is
// not finite, or err if there is none.
func (s *Scratch) sampleError(t trace, err error) error {
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
		t := p.tiles[i]
		sum := w.sum[:t.len()]
		clear(sum)
		w.sumTile(sum, t)
		for r := range t.rows {
			copy(w.dst.Data[t.index(p.grid, r):], sum[r*t.cols:(r+1)*t.cols])
		}
		w.report(len(p.tiles))
	}
}

// sumTile adds all lookups to sum, four receivers of a transmitter at a time.
func (w *worker) sumTile(sum []complex64, t tile) {
	p := w.plan
	lookups := p.lookups
	for len(lookups) > 0 {
		l := lookups[0]
		tx := p.tx.of(t, l.tx)
		if len(lookups) >= 4 && lookups[3].tx == l.tx {
			var rx [4][]int32
			var traces [4][]portable.Sample
			for i, l := range lookups[:4] {
				rx[i], traces[i] = p.rx.of(t, l.rx), w.packedTrace(l.trace)
			}
			portable.Sum4(sum, tx, rx, traces, p.fraction)
			lookups = lookups[4:]
			continue
		}
		portable.Sum(sum, tx, p.rx.of(t, l.rx), w.packedTrace(l.trace), p.fraction)
		lookups = lookups[1:]
	}
}

// packedTrace returns trace i as the kernel reads it.
func (s *Scratch) packedTrace(i int) []portable.Sample {
	from := i * s.plan.stride()
	return s.packed[from : from+s.plan.samples-1]
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
