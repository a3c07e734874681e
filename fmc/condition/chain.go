// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"reflect"
	"slices"
	"sync"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// Step is a step of a [Chain]: an [OffsetRemoval], [Subtraction], [BandPass], [MatchedFilter],
// [Gain] or [Window]. A step is a plain struct that is checked by [NewChain].
type Step interface {
	// compile returns what runs the step on captures like the given one, which is valid.
	compile(like *fmc.Capture) (runner, error)
}

// runner runs a step on the traces of captures of one format. It is immutable.
type runner interface {
	margin() int // samples of scratch beyond the samples of a trace
	// run conditions the trace of pair p in place. Spare is scratch.
	run(p int, trace, spare []float32)
}

// Chain runs steps one after the other, on captures of one format. It runs all steps on one trace
// before the next trace, so that the trace stays in the nearest cache. A Chain is safe for
// concurrent use.
type Chain struct {
	format
	steps  []runner
	centre bool // the first step subtracts the mean of the whole trace; steps holds the others
	spare  int  // samples of scratch
	lock   sync.Mutex
	spares [][]float32 // scratch that no call uses now
}

// NewChain returns a chain of at least one step, for captures like the given one, which must be
// valid. The chain copies what it needs of the steps and of that capture, whose Data may be nil.
// The error names the number of the step that is at fault.
func NewChain(like *fmc.Capture, steps ...Step) (*Chain, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	if len(steps) == 0 {
		return nil, fmt.Errorf("condition: chain of 0 steps: want at least 1")
	}
	c := &Chain{format: f}
	for i, s := range steps {
		if v := reflect.ValueOf(s); s == nil || v.Kind() == reflect.Pointer && v.IsNil() {
			return nil, fmt.Errorf("condition: step %d is nil: want a step", i)
		}
		r, err := s.compile(like)
		if err != nil {
			return nil, fmt.Errorf("%w (step %d)", err, i)
		}
		c.spare = max(c.spare, c.samples+r.margin())
		if i == 0 && r == (offset{0, c.samples}) {
			c.centre = true
			continue
		}
		c.steps = append(c.steps, r)
	}
	return c, nil
}

// Apply writes the conditioned traces of src to the samples of dst. Both captures must have the
// format of the chain. They may be the same capture, or share Data from the same first sample on.
// Otherwise their Data must not overlap. After an error the samples of dst are undefined.
//
// Apply allocates only if it fails, or if the number of calls that run at once is larger than in
// all earlier use.
func (c *Chain) Apply(dst, src *fmc.Capture) error {
	if err := c.check("src", src); err != nil {
		return err
	}
	if err := c.check("dst", dst); err != nil {
		return err
	}
	spare := c.borrow()
	defer c.giveBack(spare)
	for p := range c.pairs {
		if err := c.trace(dst.Trace(p), src.Trace(p), p, spare); err != nil {
			return err
		}
	}
	return nil
}

// trace writes the conditioned src, the trace of pair p, to dst.
func (c *Chain) trace(dst, src []float32, p int, spare []float32) error {
	sum, peak := vector.Load(dst, src, 1)
	if !number.Finite(float64(peak)) {
		k := notFinite(dst)
		return &fmc.SampleError{Index: p, Pair: c.pairs[p], Sample: k, Value: dst[k]}
	}
	if c.centre {
		vector.Shift(dst, float32(-sum/float64(len(dst))))
	}
	for _, s := range c.steps {
		s.run(p, dst, spare)
	}
	if !allFinite(dst) {
		return fmt.Errorf("condition: sample %d of pair %d (%v) leaves the range of float32: "+
			"want smaller samples or less gain", notFinite(dst), p, c.pairs[p])
	}
	return nil
}

// borrow returns scratch that no other call uses.
func (c *Chain) borrow() []float32 {
	c.lock.Lock()
	defer c.lock.Unlock()
	last := len(c.spares) - 1
	if last < 0 {
		return make([]float32, c.spare)
	}
	spare := c.spares[last]
	c.spares = c.spares[:last]
	return spare
}

func (c *Chain) giveBack(spare []float32) {
	c.lock.Lock()
	defer c.lock.Unlock()
	c.spares = append(c.spares, spare)
}

// Response returns the factor by which the filters of the chain multiply exp(2πi·f·t) of the given
// frequency f in Hz, far from the ends of the record. It is the product of the responses of all
// [BandPass] and [MatchedFilter] steps. A band-pass is real: it adds no phase. A matched filter is
// the conjugate spectrum of the pulse, divided by the energy of the pulse.
func (c *Chain) Response(frequency float64) complex128 {
	product := 1 + 0i
	for _, s := range c.steps {
		if f, ok := s.(*fir); ok {
			product *= f.response(frequency / c.rate)
		}
	}
	return product
}

// allFinite reports whether no sample is NaN or Inf. The peak is finite exactly if all samples
// are, and it is faster than a test of each sample.
func allFinite(trace []float32) bool { return number.Finite(float64(vector.Peak(trace))) }

// notFinite returns the index of the first sample that is NaN or Inf.
func notFinite(trace []float32) int {
	return slices.IndexFunc(trace, func(v float32) bool { return !number.Finite(float64(v)) })
}
