// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/wedge"
)

// Options modifies [NewPlan]. Nil stands for the zero value.
type Options struct {
	// Band is the pass band of the filter before the sum. The zero value stands for
	// [DefaultBand] of the capture's array.
	Band Band
	// Weights holds a factor for the trace of each pair of the capture, finite: an
	// apodisation, or 0 for a pair to leave out. Nil stands for 1 each. In a half
	// matrix a factor applies to both directions of its pair.
	Weights []float32
	// Progress, if not nil, is called now and then during [Scratch.Reconstruct] with the share of
	// the image that is done, in (0, 1]. Two calls for one scratch never run at the same time.
	// [PlanView] calls it with the share of the tables that is made.
	Progress func(share float64)
	// Workers is the most goroutines that work at a time on the tables of [PlanView], or on
	// an image; 0 stands for all cores.
	Workers int
	// Precision is the precision of the sum. The zero value is [Single].
	Precision Precision
	// FullScale is the modulus of a sample at which the receiver clips, in the unit of the
	// samples, finite and above 0. Each frame is then searched for clipped samples, and pixels
	// that read one have the state [Clipped]. For this search the plan keeps the tables of times.
	// So do not give a table of [wedge.Path.Interpolate] to Reuse while the plan is in use. Search
	// raw samples only, because conditioning hides clipping. A frame without clipped samples takes
	// a few percent more time. A frame in which a fifth of the traces clip takes up to three times
	// as long (BenchmarkClipping). Zero stands for no search.
	FullScale float32
	// Compound weights the events of a capture at each pixel as the full matrix does, and adds
	// [Plan.Shares]. Nil stands for events of weight 1. With Compound, [NewPlan] takes the
	// transmitting table of the elements, as for a full matrix, and makes the table of the events
	// itself.
	Compound *CompoundOptions

	// Coherence is the measure of agreement of the channels that each image carries besides its
	// amplitudes ([Image.Coherence]). The zero value is [NoCoherence].
	Coherence Coherence
	// PhaseGamma is the factor γ of [PhaseCoherence] and [AuxiliaryPhaseCoherence], finite and
	// above 0: above 1 phases that disagree lower the coherence more. Zero stands for 1.
	PhaseGamma float64

	// kernel, if not empty, is the name of the kernel to use instead of the best.
	kernel string
	// tables, if not nil, holds the tables that this plan shares with others.
	tables pathTables
}

// Plan holds all of a reconstruction that does not depend on the samples. It is
// immutable and safe for concurrent use, with a [Scratch] for each goroutine.
type Plan struct {
	grid      Grid
	template  *fmc.Capture // what the plan was made for, without samples
	samples   int          // of a trace
	pairs     []fmc.Pair   // of the template
	analytic  *Analytic
	direct    *direct // in place of analytic, if not nil
	tiles     []tile
	traces    []traceSum
	lookups   []lookup
	precision Precision
	name      string // of the kernel
	kernel    kernel
	progress  func(float64)
	workers   int // of a scratch
	band      Band
	weights   []float32  // of the pairs, nil if all are 1
	shared    bool       // whether both paths are the same
	coherence *coherence // nil if nobody asked for it
	states    []State    // of each pixel, nil if none has any
	clipping  *clipping  // nil if nobody asked for it
	compound  *compound  // nil if each event has the same weight at all pixels
}

// traceSum is a trace that the kernel reads: the weighted sum of the traces of one pair or two.
// It has two where both directions of a pair take the same time.
type traceSum struct {
	terms [2]term
	count int
}

type term struct {
	pair   int
	weight float64 // copies included
	copies float32 // how many channels of a pixel the pair stands for; 0 if its weight is 0
}

// copies returns how many channels of a pixel t stands for.
func (t traceSum) copies() float32 { return t.terms[0].copies + t.terms[1].copies }

// lookup is one trace of the sum over the image.
type lookup struct{ tx, rx, trace int }

// NewPlan prepares the images over g of captures like c: captures of the same array, pairs,
// samples and times, with any Data. The Data of c may be nil. [PlanView] makes the tables too.
//
// The tables hold the times of flight from the elements of the array to the pixels of g, along
// the transmitting and along the receiving path. For a capture of events the transmitting table
// has a row for each event, and [EventTimes] makes it. A table that was made for other elements,
// events or points is an error ([wedge.MadeFor]).
//
// If both tables are of the same path, as in a symmetric view, the plan holds only one table. It
// sums the traces of both directions of a pair before the sum over the image, which is half of
// the work. The arguments may be one table or two.
//
// Each trace counts once for its transmitter and receiver. In a half matrix a trace of two
// different elements counts for both directions, because reciprocity makes both traces equal. In
// a list of pairs it counts for one direction.
func NewPlan(c *fmc.Capture, g Grid, transmit, receive *wedge.Times, options *Options) (*Plan, error) {
	options, analytic, err := options.prepare(c, g)
	if err != nil {
		return nil, err
	}
	return newPlan(context.Background(), c, g, g.Places(), analytic, transmit, receive, options)
}

// newPlan is [NewPlan] for arguments that prepare has checked, and a grid of pixels at points. If
// the grid is the grid of a band, only its numbers of pixels are used.
func newPlan(ctx context.Context, c *fmc.Capture, g Grid, points wedge.Places, analytic *Analytic, transmit, receive *wedge.Times, options *Options) (*Plan, error) {
	compound, transmit, err := newCompound(ctx, c, transmit, options)
	if err != nil {
		return nil, err
	}
	if err := checkTables(c, points, transmit, receive); err != nil {
		return nil, err
	}
	for _, table := range []namedTable{{sends, transmit}, {receives, receive}} {
		if unreachable(table.times) {
			return nil, fmt.Errorf("tfm: %s table without a single ray: want a grid of which some part can be reached", table.name)
		}
	}
	if receive.MadeFor.Path != nil && receive.MadeFor.Equal(transmit.MadeFor) {
		receive = transmit
	}
	template := templateOf(c)
	p := &Plan{
		grid:      g,
		template:  template,
		samples:   c.Samples,
		pairs:     template.Pairs,
		analytic:  analytic,
		precision: options.Precision,
		name:      options.kernel,
		progress:  options.Progress,
		workers:   options.Workers,
		band:      options.band(c),
		weights:   slices.Clone(options.Weights),
		shared:    transmit == receive,
		compound:  compound,
	}
	if p.name == "" {
		p.name = kernelNames()[0]
	}
	p.tiles = tiles(g, p.tileCols())
	p.arrange(c.Layout())
	if options.Coherence != NoCoherence {
		p.coherence = &coherence{measure: options.Coherence, gamma: cmp.Or(options.PhaseGamma, 1)}
	}
	early := p.findStates(c, transmit, receive)
	reach := math.Ceil(float64(c.Samples-1) + (math.Abs(c.FirstSample)+early)*c.SampleRate)
	fraction, err := fractionBits(reach)
	if err != nil {
		return nil, err
	}
	p.kernel = newKernel(p.name, p, transmit, receive, timeAxis{c.SampleRate, c.FirstSample / 2, reach, fraction, options.tables})
	if p.coherence != nil {
		p.coherence.count(p)
	}
	if options.FullScale != 0 {
		p.clipping = newClipping(p, c, options.FullScale, options.band(c), transmit, receive)
	}
	return p, nil
}

// findStates finds the states of all pixels that depend on geometry, and returns the time from the
// first time of flight to time 0, in s, and 0 if no time is negative. The wave of an event with
// negative delays may come before time 0. Then a time of the other path may be longer than the
// record by the same amount.
func (p *Plan) findStates(c *fmc.Capture, transmit, receive *wedge.Times) (early float64) {
	states := make([]State, p.grid.Len())
	v := newCoverage(p, c, transmit, receive)
	early = v.mark(states)
	if p.compound != nil {
		p.compound.mark(states)
	}
	newSampling(v, p.grid, c.Array).mark(states)
	if slices.Max(states) != 0 {
		p.states = states
	}
	return early
}

// prepare checks the arguments of a plan, except its tables. It returns the options, where nil was
// replaced by the zero value, and the transform of the traces.
func (o *Options) prepare(c *fmc.Capture, g Grid) (*Options, *Analytic, error) {
	if o == nil {
		o = new(Options)
	}
	if err := c.ValidateTemplate(); err != nil {
		return nil, nil, fmt.Errorf("tfm: %w", err)
	}
	if err := g.Validate(); err != nil {
		return nil, nil, fmt.Errorf("tfm: %w", err)
	}
	if err := parallel.Check(o.Workers); err != nil {
		return nil, nil, fmt.Errorf("tfm: %w", err)
	}
	if err := o.Compound.check(c); err != nil {
		return nil, nil, err
	}
	if o.Compound != nil && o.Coherence != NoCoherence {
		return nil, nil, fmt.Errorf("tfm: %v of events that are compounded: want the one or the other", o.Coherence)
	}
	analytic, err := o.analytic(c)
	return o, analytic, err
}

// analytic returns the transform of the traces of captures like c.
func (o *Options) analytic(c *fmc.Capture) (*Analytic, error) {
	if err := checkWeights(o.Weights, len(c.Pairs)); err != nil {
		return nil, err
	}
	if o.Precision > Fixed16 {
		return nil, fmt.Errorf("tfm: precision %v: want Single or Fixed16", o.Precision)
	}
	if full := float64(o.FullScale); !(full >= 0) || math.IsInf(full, 0) {
		return nil, fmt.Errorf("tfm: full scale %v: want a finite value above 0, or 0 for not looking for clipped samples", full)
	}
	if o.Coherence > CircularCoherence {
		return nil, fmt.Errorf("tfm: coherence %v: want one of the named measures", o.Coherence)
	}
	if !(o.PhaseGamma >= 0) || math.IsInf(o.PhaseGamma, 0) {
		return nil, fmt.Errorf("tfm: gamma of phase coherence %v: want a finite value above 0, or 0 for 1", o.PhaseGamma)
	}
	return NewAnalytic(c.Samples, c.SampleRate, o.band(c))
}

// band returns the pass band for captures like c.
func (o *Options) band(c *fmc.Capture) Band {
	if o.Band == (Band{}) {
		return DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
	}
	return o.Band
}

// unreachable reports whether no point of a table has a ray.
func unreachable(t *wedge.Times) bool { return t.Missing == len(t.Seconds) }

func checkWeights(weights []float32, pairs int) error {
	if weights == nil {
		return nil
	}
	if len(weights) != pairs {
		return fmt.Errorf("tfm: %d weights: want %d, one a pair", len(weights), pairs)
	}
	for i, w := range weights {
		if math.IsNaN(float64(w)) || math.IsInf(float64(w), 0) {
			return fmt.Errorf("tfm: weight %d is %v: want a finite value", i, w)
		}
	}
	return nil
}

// arrange lists the lookups, sorted by transmitter, and the traces that they read. If both paths
// are the same, i→j and j→i take the same time. Their traces are then summed before the sum over
// the image, which is exact and half of the work.
func (p *Plan) arrange(layout fmc.Layout) {
	for i, s := range sourcesOf(p.pairs, p.shared) {
		t := traceSum{count: s.count}
		for k, at := range s.pairs[:s.count] {
			t.terms[k] = term{at, p.weight(at), 1}
			if p.weight(at) == 0 {
				t.terms[k].copies = 0
			}
		}
		pair := p.pairs[s.pairs[0]]
		p.lookups = append(p.lookups, lookup{pair.Tx, pair.Rx, i})
		if layout == fmc.Half && pair.Tx != pair.Rx {
			if p.shared {
				t.terms[0].weight *= 2
				t.terms[0].copies *= 2
			} else {
				p.lookups = append(p.lookups, lookup{pair.Rx, pair.Tx, i})
			}
		}
		p.traces = append(p.traces, t)
	}
	slices.SortFunc(p.lookups, func(a, b lookup) int {
		if a.tx != b.tx {
			return a.tx - b.tx
		}
		return a.rx - b.rx
	})
}

// weight returns the weight of the trace of a pair.
func (p *Plan) weight(pair int) float64 {
	if p.weights == nil {
		return 1
	}
	return float64(p.weights[pair])
}

// source is the trace of a pair of the capture, or the traces of both directions of a pair.
type source struct {
	pairs [2]int
	count int
}

// sourcesOf returns the traces of pairs, in their order. If both is true, the traces of both
// directions of a pair are one source, at the place of the first.
func sourcesOf(pairs []fmc.Pair, both bool) []source {
	sources := make([]source, 0, len(pairs))
	at := make(map[fmc.Pair]int) // the source that holds a pair
	for i, pair := range pairs {
		if s, found := at[pair.Reciprocal()]; found && both {
			sources[s].pairs[1], sources[s].count = i, 2
			continue
		}
		at[pair] = len(sources)
		sources = append(sources, source{[2]int{i}, 1})
	}
	return sources
}

// layers returns the number of layers of the sum: the channels, and functions of them for the
// coherence.
func (p *Plan) layers() int {
	if p.coherence == nil {
		return 1
	}
	return 1 + p.coherence.measure.passes()
}

// Grid returns the grid of the images.
func (p *Plan) Grid() Grid { return p.grid }

// Template returns a copy of the capture that the plan was made for, without samples.
func (p *Plan) Template() *fmc.Capture { return templateOf(p.template) }

// Kernel returns the name of the kernel that sums: "avx512", "avx2", "neon" or "portable".
func (p *Plan) Kernel() string { return p.name }

// Bytes returns the memory of the tables of the plan, and the memory of the traces in each
// scratch of the plan, both in bytes.
//
// For each path an element takes 4.25 bytes a pixel in [Single] and 2.25 in [Fixed16]. It takes 4
// more at pixels where delays change too steeply for the kernels in assembly, or where an element
// has no ray. The kernel "portable" takes 4 bytes a pixel. Equal paths count once. States take 1
// byte a pixel, if there are any. [Options.FullScale] adds the tables of times, and 1 bit a
// sample. [Options.Compound] adds 8 bytes a pixel for each event, and 5 bytes a pixel.
// [Options.Coherence] adds one or two more sets of traces and sums to each scratch.
func (p *Plan) Bytes() (tables, scratch int) {
	tables, scratch = p.kernel.bytes()
	if k := p.coherence; k != nil {
		const count, sum = 4, 8
		passes := k.measure.passes()
		tables, scratch = tables+count*len(k.counts), scratch+sum*passes*p.grid.Len()
	}
	if p.clipping != nil {
		times, marks := p.clipping.bytes(len(p.traces))
		tables, scratch = tables+times, scratch+marks
	}
	return tables + p.compound.bytes() + len(p.states), scratch
}
