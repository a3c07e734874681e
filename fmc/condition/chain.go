// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// Step is one of the steps of this package: [*OffsetRemoval], [*Subtraction],
// [*BandPass], [*MatchedFilter], [*Gain] or [*Taper].
type Step interface {
	form() *format
	margin() int // samples of scratch beyond those of a trace
	// run conditions the trace of pair p in place. Spare is scratch.
	run(p int, trace, spare []float32)
}

// Chain runs steps one after the other. It is immutable and safe for concurrent
// use with a scratch for each goroutine.
type Chain struct {
	format
	steps []Step
	spare int // samples of scratch
}

// Scratch is the scratch of one goroutine for a [Chain].
type Scratch struct{ spare []float32 }

// NewChain returns the chain of at least one step, all made for captures of the
// same format. A step may stand in it more than once and in other chains too.
func NewChain(steps ...Step) (*Chain, error) {
	if len(steps) == 0 {
		return nil, fmt.Errorf("condition: chain of 0 steps: want at least 1")
	}
	c := &Chain{steps: slices.Clone(steps)}
	for i, s := range steps {
		if s == nil || s.form().samples == 0 {
			return nil, fmt.Errorf("condition: step %d was not made by its constructor: want one that was", i)
		}
		if i == 0 {
			c.format = *s.form()
		}
		if err := c.equal(fmt.Sprintf("step %d", i), s.form()); err != nil {
			return nil, err
		}
	}
	for _, s := range steps {
		c.spare = max(c.spare, c.samples+s.margin())
	}
	return c, nil
}

// NewScratch returns the scratch of one goroutine.
func (c *Chain) NewScratch() *Scratch { return &Scratch{make([]float32, c.spare)} }

// Apply writes the conditioned traces of src to dst, both of the format that
// the chain was made for, and changes nothing else of dst. The two may be the
// same capture, or share Data from the same first sample on; otherwise their
// Data must not overlap. It allocates nothing unless it fails. On an error the
// samples of dst are undefined.
func (c *Chain) Apply(dst, src *fmc.Capture, scratch *Scratch) error {
	if err := c.check("src", src); err != nil {
		return err
	}
	if err := c.check("dst", dst); err != nil {
		return err
	}
	for p := range c.pairs {
		if err := c.Trace(dst.Trace(p), src.Trace(p), p, scratch); err != nil {
			return err
		}
	}
	return nil
}

// Trace writes the conditioned src, the trace of pair p, to dst: one turn of
// [Chain.Apply], to spread traces over goroutines or to hand each on while it
// is in the cache. Both hold K samples and are either the same or do not
// overlap.
func (c *Chain) Trace(dst, src []float32, p int, scratch *Scratch) error {
	if p < 0 || p >= len(c.pairs) {
		return fmt.Errorf("condition: pair %d: want 0 to %d", p, len(c.pairs)-1)
	}
	if len(src) != c.samples || len(dst) != c.samples {
		return fmt.Errorf("condition: trace of %d samples into %d: want %d", len(src), len(dst), c.samples)
	}
	if scratch == nil || len(scratch.spare) != c.spare {
		return fmt.Errorf("condition: scratch of another chain: want one that NewScratch of this one made")
	}
	copy(dst, src)
	if !allFinite(dst) {
		k := notFinite(dst)
		return &fmc.SampleError{Index: p, Pair: c.pairs[p], Sample: k, Value: dst[k]}
	}
	for _, s := range c.steps {
		s.run(p, dst, scratch.spare)
	}
	if !allFinite(dst) {
		return fmt.Errorf("condition: sample %d of pair %d (%v) leaves the range of float32: want smaller samples or less gain",
			notFinite(dst), p, c.pairs[p])
	}
	return nil
}

// allFinite reports whether no sample is NaN or Inf. In float64 finite samples
// have a finite sum and others have not, and sums are faster than tests.
func allFinite(trace []float32) bool { return finite(vector.Sum(trace)) }

// notFinite returns the first sample that is NaN or Inf.
func notFinite(trace []float32) int {
	return slices.IndexFunc(trace, func(v float32) bool { return !finite(float64(v)) })
}
