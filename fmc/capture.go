// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"fmt"
	"iter"
	"math"
	"reflect"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Capture is one frame of an array: a trace for each pair of a transmission and a receiver. All
// traces are sampled at the same times. Sample k of pair p is
//
//	Data[p*Samples+k], taken at FirstSample + k/SampleRate.
//
// A transmission is an element that fires alone, or an [Event] of several elements.
//
// Make a capture with [New], or fill the fields and call [Capture.Validate]. The other methods rely
// on that check. Data may be overwritten in place, frame after frame.
type Capture struct {
	// Array must be valid. Elements on a line that overlap must not work together, in a pair or in
	// an event. Places may overlap where one element is moved between its firings and records its
	// own echoes.
	Array Array

	// Events are the transmissions that the Tx of Pairs numbers. With nil Events, Tx numbers
	// elements that fire alone.
	Events []Event

	// Pairs are at least one, and distinct. Tx is below Transmissions(), Rx is an element of Array.
	Pairs []Pair

	// Samples is the number K of samples of each trace, at least 1.
	Samples int

	// SampleRate is in Hz, finite and above 0.
	SampleRate float64

	// FirstSample is the time of sample 0 in s, finite. Time 0 is the centre of the transmitted
	// pulse.
	FirstSample float64

	// Data are len(Pairs)·Samples samples, all in one unit (any) and finite.
	Data []float32
}

// New returns c if [Capture.Validate] finds no fault. It keeps the slices of c and does not copy
// them. If Data is nil, New allocates it, all zeros.
func New(c Capture) (*Capture, error) {
	if err := c.ValidateTemplate(); err != nil {
		return nil, err
	}
	if c.Data == nil {
		c.Data = make([]float32, len(c.Pairs)*c.Samples)
	}
	if err := c.CheckSamples(); err != nil {
		return nil, err
	}
	return &c, nil
}

// Validate returns an error for the first field that is outside the range in its comment, and for a
// nil capture. A sample that is NaN or Inf gives a [*SampleError].
func (c *Capture) Validate() error {
	if err := c.ValidateTemplate(); err != nil {
		return err
	}
	return c.CheckSamples()
}

// maxSamples bounds a capture to 8 GiB of samples where int has 64 bits.
const maxSamples = min(1<<31, math.MaxInt/8)

// ValidateTemplate returns the error of [Capture.Validate] for all fields except Data. It does not
// look at Data, which may be nil: a template describes captures whose samples are not there yet.
func (c *Capture) ValidateTemplate() error {
	if c == nil {
		return errors.New("fmc: no capture, nil: want one")
	}
	if err := c.Array.Validate(); err != nil {
		return err
	}
	if err := c.validateEvents(); err != nil {
		return err
	}
	if err := c.validatePairs(); err != nil {
		return err
	}
	if err := c.validateOverlap(); err != nil {
		return err
	}
	if limit := maxSamples / len(c.Pairs); c.Samples < 1 || c.Samples > limit {
		return fmt.Errorf("fmc: %d samples a trace: want 1 to %d", c.Samples, limit)
	}
	if !number.Positive(c.SampleRate) {
		return fmt.Errorf("fmc: sample rate %v Hz: want a finite value above 0", c.SampleRate)
	}
	if !number.Finite(c.FirstSample) {
		return fmt.Errorf("fmc: time of the first sample %v s: want a finite value", c.FirstSample)
	}
	if last := c.Time(c.Samples - 1); !number.Finite(last) {
		return fmt.Errorf("fmc: time of the last sample %v s: want a finite value", last)
	}
	return nil
}

// Alike reports whether two captures are equal except for their samples: one plan serves both. It
// takes little time if the captures share their slices, as the captures of one source do.
func (c *Capture) Alike(other *Capture) bool {
	x, y := *c, *other
	x.Data, y.Data = nil, nil
	return reflect.DeepEqual(&x, &y)
}

func (c *Capture) validatePairs() error {
	if len(c.Pairs) == 0 {
		return fmt.Errorf("fmc: 0 pairs: want at least 1")
	}
	if c.Layout() != Listed {
		return nil
	}
	n, transmissions := len(c.Array.Elements), c.Transmissions()
	at := make(map[Pair]int, len(c.Pairs))
	for p, pair := range c.Pairs {
		if c.Events != nil && !pair.within(transmissions, n) {
			return fmt.Errorf("fmc: pair %d is %v: want events 0 to %d and elements 0 to %d",
				p, pair, transmissions-1, n-1)
		}
		if !pair.within(transmissions, n) {
			return fmt.Errorf("fmc: pair %d is %v: want elements 0 to %d", p, pair, n-1)
		}
		if first, taken := at[pair]; taken {
			return fmt.Errorf("fmc: pairs %d and %d are both %v: want distinct pairs", first, p,
				pair)
		}
		at[pair] = p
	}
	return nil
}

// Layout returns the layout of Pairs. It compares Pairs with the order of each layout. The one pair
// of a single element is [Full]. A capture of events is [Full] with the pairs of [EventPairs], and
// never [Half].
func (c *Capture) Layout() Layout {
	n := len(c.Array.Elements)
	switch {
	case complete(c.Pairs, c.Transmissions(), n, fullIndex):
		return Full
	case c.Events == nil && complete(c.Pairs, n, n, halfIndex):
		return Half
	}
	return Listed
}

// Trace returns the samples of pair p, 0 ≤ p < len(Pairs), as a part of Data. It panics if p is
// outside that range, as a slice does.
func (c *Capture) Trace(p int) []float32 {
	from, to := p*c.Samples, (p+1)*c.Samples
	return c.Data[from:to:to]
}

// Traces yields each pair with its trace, a part of Data, in the order of Pairs.
func (c *Capture) Traces() iter.Seq2[Pair, []float32] {
	return func(yield func(Pair, []float32) bool) {
		for p, pair := range c.Pairs {
			if !yield(pair, c.Trace(p)) {
				return
			}
		}
	}
}

// Index returns the index of the pair tx→rx in Pairs, and whether Pairs holds it. Index does not
// look for rx→tx. It takes constant time if the pair stands at its place in the full or the half
// matrix; otherwise the time grows with the number of pairs.
func (c *Capture) Index(tx, rx int) (p int, ok bool) {
	pair, n := Pair{tx, rx}, len(c.Array.Elements)
	if !pair.within(c.Transmissions(), n) {
		return 0, false
	}
	for _, p := range [...]int{fullIndex(pair, n), halfIndex(pair, n)} {
		if p >= 0 && p < len(c.Pairs) && c.Pairs[p] == pair {
			return p, true
		}
	}
	p = slices.Index(c.Pairs, pair)
	return max(p, 0), p >= 0
}

// Between returns the trace from tx to rx as a part of Data. If that trace was not captured,
// Between returns the trace from rx to tx, which is equal by reciprocity. It returns nil and false
// if the capture holds neither. An event has no reciprocal trace.
func (c *Capture) Between(tx, rx int) (trace []float32, ok bool) {
	p, ok := c.Index(tx, rx)
	if !ok && c.Events == nil {
		p, ok = c.Index(rx, tx)
	}
	if !ok {
		return nil, false
	}
	return c.Trace(p), true
}

// Time returns the time of sample k in s, FirstSample + k/SampleRate. Any k has a time, also
// outside the record.
func (c *Capture) Time(k int) float64 { return c.FirstSample + float64(k)/c.SampleRate }
