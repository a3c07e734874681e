// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"math"
	"slices"
	"sync"
	"time"

	"github.com/isochron-imaging/isochron/internal/parallel"
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
	// reads holds the samples [from, to) that views read of the pairs of each source. foldReads
	// holds the samples that folded views read of the sum of these pairs. If separate is false,
	// no view is folded.
	reads, foldReads [][2]int
	// parts holds what each trace of a view reads of each source. It is empty if there is only one
	// such trace.
	parts    [][][2]int
	sharings []*sharing // of the views in 16 bits
	order    []int      // the views, as they are summed
	batches  [][]int    // parts of order: views that share packed traces
	workers  []*worker
	crew     *parallel.Crew
	// The stages are stored as function values, because a method value would allocate in each frame.
	transform, level, delayAndSum func(worker, task int)

	// The frame in hand. Its samples are in one of the two slices.
	float32s []float32
	int16s   []int16
	ctx      context.Context

	levelling frame // whose traces the stage in hand brings to one scale

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
	s.parts = make([][][2]int, len(s.sources))
	several := len(s.views) > 1 || s.separate
	for i, source := range s.sources {
		for _, v := range s.views {
			traces, count := v.traces(i, source)
			for _, trace := range traces[:count] {
				part := v.reads(trace)
				reads := &s.reads[i]
				if s.folded(v) {
					reads = &s.foldReads[i]
				}
				*reads = union(*reads, part)
				if several && part[0] < part[1] && !slices.Contains(s.parts[i], part) {
					s.parts[i] = append(s.parts[i], part)
				}
			}
		}
	}
}

// reads returns the samples that v reads of a trace.
func (v *viewScratch) reads(trace int) [2]int {
	first, last := v.plan.kernel.reads(trace)
	if v.plan.coherence != nil && first < last { // whose functions need the neighbours of a sample
		first, last = max(0, first-1), min(v.plan.samples, last+1)
	}
	return [2]int{first, last}
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
