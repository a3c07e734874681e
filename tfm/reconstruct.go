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
	"time"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/tfm/internal/pixel"
)

// Scratch is the memory in which a [Plan] reconstructs one frame after another.
// It must not be used by two calls at once.
type Scratch struct {
	plan  *Plan // of the first view; the layout of the samples is the same in all
	views []*viewScratch
	// If separate is false, each source is a trace of all plans, and the traces of its pairs are
	// summed before the transform. Otherwise each pair is transformed by itself, because a
	// coherence needs each channel, or because only some views sum the traces of both directions.
	separate bool
	sources  []source
	// The samples that the views read of each source, [from, to): of its pairs, and of their sum,
	// which views read that are folded. If separate is false, all are in reads.
	reads, foldReads [][2]int
	sharings         []*sharing // of the views in 16 bits
	order            []int      // the views, as they are summed
	batches          [][]int    // parts of order: views that share packed traces
	workers          []*worker
	crew             *parallel.Crew
	// The stages are stored as function values, because a method value would allocate in each frame.
	transform, level, delayAndSum func(worker, task int)

	// The frame in hand. Its samples are in one of the two slices.
	float32s []float32
	int16s   []int16
	ctx      context.Context

	levelling frame // of the stage in hand

	lock    sync.Mutex // guards what follows
	done    int        // tasks of the stage in hand
	failure error      // the first, by the number of its task
	failed  int        // that number

	began, filtered, ended time.Time // of the last frame
}

// viewScratch is the part of one view in a scratch.
type viewScratch struct {
	plan    *Plan
	borrows bool          // the frames belong to another view, which packs them
	frames  []frame       // the traces, then the functions of the channels for the coherence
	sums    [][]complex64 // of each frame: first the data of the image in hand
	clipped *clipMarks    // nil unless the plan looks for clipping

	// The output of the frame in hand: an image, or the values of another output, whose image is
	// hidden.
	dst    *Image
	hidden hidden
	values []float32
	levels *pixel.Levels // nil unless the values are levels
}

// newViewScratch returns the part of p, which may share the frames of earlier views.
func newViewScratch(p *Plan, earlier []*viewScratch) *viewScratch {
	v := &viewScratch{plan: p}
	for _, e := range earlier {
		if !e.borrows && e.plan.sumsTracesOf(p) && len(e.frames) == 1 && p.kernel.join(e.frames[0]) {
			v.frames, v.borrows = e.frames, true
			break
		}
	}
	if !v.borrows {
		v.frames = p.kernel.newFrames()
	}
	if p.clipping != nil {
		v.clipped = newClipMarks(p.clipping, len(p.traces))
	}
	v.sums = make([][]complex64, len(v.frames))
	for i := range v.sums[1:] {
		v.sums[1+i] = make([]complex64, p.grid.Len())
	}
	return v
}

// sumsTracesOf reports whether p and q sum the same traces.
func (p *Plan) sumsTracesOf(q *Plan) bool {
	return p.shared == q.shared && slices.Equal(p.traces, q.traces)
}

// planes holds the real and the imaginary part of a trace, or two real functions of traces.
type planes struct{ re, im []float32 }

func newPlanes(samples int) planes {
	return planes{make([]float32, samples+directBlock), make([]float32, samples+directBlock)}
}

// worker is the scratch of one core.
type worker struct {
	*Scratch
	signal    *analyticScratch
	direct    *directScratch // in place of signal, if the plan has it
	total     planes         // the analytic signal of a trace
	channels  [2]planes      // the analytic signals of its pairs
	functions [maxPasses]planes
	adders    []adder // of each view
}

// NewScratch returns a scratch for frames of p. It works on as many cores as [Options.Workers]
// says; 0 stands for the value of runtime.GOMAXPROCS now.
func (p *Plan) NewScratch() *Scratch { return p.NewScratchOf(p.workers) }

// NewScratchOf is [Plan.NewScratch] for another number of cores than [Options.Workers]: for one
// core of several that image different frames at the same time. A number below 1 stands for the
// value of runtime.GOMAXPROCS now.
func (p *Plan) NewScratchOf(workers int) *Scratch {
	return newScratch(workers, p)
}

// newScratch returns a scratch for the views of plans.
func newScratch(workers int, plans ...*Plan) *Scratch {
	p := plans[0]
	s := &Scratch{plan: p}
	for _, plan := range plans {
		v := newViewScratch(plan, s.views)
		s.views = append(s.views, v)
		s.separate = s.separate || plan.coherence != nil || plan.shared != p.shared
	}
	s.sources = sourcesOf(p.pairs, s.separate || p.shared)
	s.findReads()
	s.share()
	for range parallel.Workers(max(workers, 0), math.MaxInt) {
		s.workers = append(s.workers, s.newWorker())
	}
	s.crew = parallel.NewCrew(len(s.workers))
	s.transform, s.level, s.delayAndSum = s.transformSource, s.levelTrace, s.sumTile
	return s
}

// folded reports whether v reads only the sum of the pairs of a source, where the scratch
// transforms each pair by itself. Only a convolution gains if it computes the sum where no view
// needs the pairs.
func (s *Scratch) folded(v *viewScratch) bool {
	return s.separate && v.plan.shared && v.plan.coherence == nil && s.plan.direct != nil
}

// findReads notes which samples the views read of each source.
func (s *Scratch) findReads() {
	s.reads, s.foldReads = make([][2]int, len(s.sources)), make([][2]int, len(s.sources))
	for i, source := range s.sources {
		for _, v := range s.views {
			traces, count := v.traces(i, source)
			for _, trace := range traces[:count] {
				first, last := v.plan.kernel.reads(trace)
				if v.plan.coherence != nil && first < last { // whose functions need the neighbours of a sample
					first, last = max(0, first-1), min(s.plan.samples, last+1)
				}
				reads := &s.reads[i]
				if s.folded(v) {
					reads = &s.foldReads[i]
				}
				*reads = union(*reads, [2]int{first, last})
			}
		}
	}
}

// union returns the least range that holds a and b.
func union(a, b [2]int) [2]int {
	switch {
	case a[0] == a[1]:
		return b
	case b[0] == b[1]:
		return a
	}
	return [2]int{min(a[0], b[0]), max(a[1], b[1])}
}

// traces returns the numbers of the traces of v that source s of number i makes, and how many
// there are: one trace if both paths are the same, otherwise one for each pair.
func (v *viewScratch) traces(i int, s source) (traces [2]int, count int) {
	if v.plan.shared {
		return [2]int{i}, 1
	}
	return s.pairs, s.count
}

func (s *Scratch) newWorker() *worker {
	p := s.plan
	w := &worker{Scratch: s, total: newPlanes(p.samples)}
	if p.direct != nil {
		w.direct = p.direct.newScratch()
	} else {
		w.signal = p.analytic.newScratch()
	}
	if s.separate {
		for i := range w.channels {
			w.channels[i] = newPlanes(p.samples)
		}
	}
	memory := new(tileMemory)
	for _, v := range s.views {
		w.adders = append(w.adders, v.plan.compound.adder(v.plan, v.plan.kernel.newAdder(v.frames, memory)))
		for i := range v.frames[1:] {
			if w.functions[i].re == nil {
				w.functions[i] = newPlanes(p.samples)
			}
		}
	}
	return w
}

// Check returns an error if c is nil or a capture of other elements, events, pairs or times than
// the capture that p was made for. It does not look at samples.
func (p *Plan) Check(c *fmc.Capture) error {
	if c == nil {
		return errors.New("tfm: no capture: want one of the plan's layout")
	}
	return checkFrame(p.template, c)
}

// Image reconstructs one image of c. A capture of other elements, events, pairs or times than the
// capture that p was made for is an error. Image allocates an image and a scratch: a fast loop
// over frames keeps a [Scratch].
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

// Reconstruct writes the image of one frame to dst: to an image of the grid of the plan, or as an
// envelope or levels ([Output]). The value of a pixel of an image is the sum, over all pairs, of
// the weighted analytic signal at the time of flight of the pixel. The samples are in the order of
// [fmc.Capture.Data]. Times outside the record, and pixels that a path does not reach, add zero.
// The States of dst tell which pixels these are.
//
// A sample that is not finite is a [*fmc.SampleError]. A sample above 1e28 in modulus after its
// weight is an error. A frame whose peak is below 1e-32 loses accuracy, down to an image of zeros.
// When ctx ends early, its error is returned. After an error dst is undefined. The image has the
// same bits for any number of cores.
//
// Reconstruct allocates nothing, except the States of an image that has had none, and memory that
// an envelope or levels lack. The runtime of Go allocates a few hundred bytes for each goroutine
// in the first frames.
func (s *Scratch) Reconstruct(ctx context.Context, dst Output, samples []float32) error {
	if err := s.aim(dst, len(samples)); err != nil {
		return err
	}
	s.float32s = samples
	return s.run(ctx)
}

// ReconstructInt16 is [Scratch.Reconstruct] for 16-bit samples, as a digitiser delivers them. In
// [Single] the image has the same bits. In [Fixed16] samples of 14 bits are filtered in integers
// on amd64. An image of echoes then differs by at most 1e-4 of its peak, and an image of noise by
// 2e-4. Steps that all channels record at the same time cancel in an image of many elements. An image
// of nothing else was seen to differ by 6e-4 for 32 elements, and by 6e-3 for 48.
func (s *Scratch) ReconstructInt16(ctx context.Context, dst Output, samples []int16) error {
	if err := s.aim(dst, len(samples)); err != nil {
		return err
	}
	s.int16s = samples
	return s.run(ctx)
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
	return s.views[0].roundingNoise(reference)
}

func (v *viewScratch) roundingNoise(reference float32) float64 {
	// The mean square error of a rounding is step²/12, and a sample may be rounded twice. Linear
	// interpolation keeps 2/3 of this error power on average. The powers of the real and imaginary
	// parts add up.
	variance := float64(len(v.plan.lookups)) * 2 * (2. / 3) * 2 / 12
	return 20 * math.Log10(v.frames[0].step()*math.Sqrt(variance)/float64(reference))
}

// aim makes dst the output of the frame in hand.
func (s *Scratch) aim(dst Output, samples int) error {
	if err := s.plan.checkSamples(samples); err != nil {
		return err
	}
	if dst == nil {
		return errors.New("tfm: no output: want an image, an envelope or levels")
	}
	return dst.aim(s.views[0])
}

// checkSamples refuses a frame of a wrong number of samples.
func (p *Plan) checkSamples(samples int) error {
	if want := len(p.pairs) * p.samples; samples != want {
		return fmt.Errorf("tfm: frame of %d samples: want %d (%d pairs of %d)", samples, want, len(p.pairs), p.samples)
	}
	return nil
}

// Spent returns how long the two stages of the last frame took by the clock: to filter and pack
// the traces, and to sum them over the image. The envelope or the levels of an [Output] belong to
// the sum. Both are 0 before the first frame.
func (s *Scratch) Spent() (filter, sum time.Duration) {
	return s.filtered.Sub(s.began), s.ended.Sub(s.filtered)
}

// run does the stages of a frame, each on all workers. The images are in the views.
func (s *Scratch) run(ctx context.Context) error {
	s.ctx, s.failure, s.began = ctx, nil, time.Now()
	s.crew.Do(len(s.sources), s.transform)
	if s.failure == nil && s.regroup() {
		s.crew.Do(len(s.sources), s.transform)
	}
	for i, v := range s.views {
		for _, f := range v.frames {
			if s.failure == nil && !v.borrows && f.needsLevel() {
				s.levelling = f
				s.crew.Do(len(v.plan.traces), s.level)
			}
		}
		v.prepare(s.workers[0].adders[i])
	}
	s.filtered = time.Now()
	if s.failure == nil {
		s.done = 0
		s.crew.Do(len(s.views)*len(s.plan.tiles), s.delayAndSum)
	}
	s.ended = time.Now()
	s.ctx, s.float32s, s.int16s = nil, nil, nil
	for _, v := range s.views {
		v.reveal()
	}
	if s.failure != nil {
		return s.failure
	}
	return ctx.Err()
}

// prepare sets the states of the image, and its memory.
func (v *viewScratch) prepare(a adder) {
	dst, pixels := v.dst, v.plan.grid.Len()
	if _, direct := a.(valueAdder); v.values != nil && !direct && dst.Data == nil {
		dst.Data = make([]complex64, pixels)
	}
	v.sums[0] = dst.Data
	states := dst.States
	dst.States = copied(states, v.plan.states)
	if v.clipped != nil && v.clipped.any() && dst.States == nil {
		dst.States = slices.Grow(states[:0], pixels)[:pixels]
		clear(dst.States)
	}
	if v.plan.coherence == nil {
		dst.Coherence = nil
		return
	}
	dst.Coherence = resized(dst.Coherence, pixels)
}

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
	peak, err := w.transformTrace(dst, w.plan.traces[i], w.reads[i])
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
		if _, err := w.transformTrace(w.channels[k], t, w.reads[i]); err != nil {
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
			if _, err := w.transformTrace(w.total, t, part); err != nil {
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

// transformTrace writes the analytic signal of t to dst, the samples reads[0] to reads[1]-1 at
// least. It returns the peak of the real and imaginary parts of these samples, 0 if it is not known.
func (w *worker) transformTrace(dst planes, t traceSum, reads [2]int) (peak float32, err error) {
	p := w.plan
	if p.direct != nil {
		return w.transformDirect(dst, t, reads)
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
func (w *worker) transformDirect(dst planes, t traceSum, reads [2]int) (peak float32, err error) {
	d := w.plan.direct
	if w.int16s == nil {
		err = d.loadFloat32(w.direct, w.float32s, t)
	} else {
		if peak, ok := d.transformInt16(w.direct, w.int16s, t, dst.re, dst.im, reads); ok {
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

// levelTrace brings trace i of a frame to the scale of the frame.
func (s *Scratch) levelTrace(_, i int) {
	if s.ctx.Err() == nil {
		s.levelling.level(i)
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

// part returns the view and the tile of a task of the sum. Views that share packed traces are
// summed tile after tile, so that the delays and the traces of a tile stay in the cache from view
// to view. Others follow each other, because the traces of a view stay in the cache from tile to
// tile.
func (s *Scratch) part(task int) (view, tile int) {
	batch, tiles := s.batches[0], len(s.plan.tiles)
	for i := 1; task >= len(batch)*tiles; i++ {
		task, batch = task-len(batch)*tiles, s.batches[i]
	}
	return batch[task%len(batch)], task / len(batch)
}

// sumTile delays and sums a tile of a view.
func (s *Scratch) sumTile(worker, task int) {
	if s.ctx.Err() != nil {
		return
	}
	view, i := s.part(task)
	v := s.views[view]
	v.sum(s.workers[worker].adders[view], i)
	if v.plan.coherence != nil {
		v.measure(i)
	}
	if v.clipped != nil {
		v.markClipped(i)
	}
	s.report()
}

// report tells the progress after one more tile.
func (s *Scratch) report() {
	if s.plan.progress == nil {
		return
	}
	s.lock.Lock()
	defer s.lock.Unlock()
	s.done++
	s.plan.progress(float64(s.done) / float64(len(s.views)*len(s.plan.tiles)))
}
