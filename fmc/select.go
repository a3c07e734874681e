// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"fmt"
	"math"
)

// SubAperture returns the capture of some elements alone, renumbered from 0. It keeps the pairs of
// which both ends are among these elements, in their order. A full matrix stays full, and a half
// matrix stays half. Samples are copied. Without Data the result has none either.
//
// It wants at least one element, in strictly ascending order, each in 0 … N−1, and at least one
// pair among them. The error for a capture of events wraps [ErrEvents].
func (c *Capture) SubAperture(elements []int) (*Capture, error) {
	if c.Events != nil {
		return nil, fmt.Errorf("%w: want it decoded before elements are left out", ErrEvents)
	}
	if err := c.checkSource(); err != nil {
		return nil, err
	}
	array, err := c.Array.sub(elements)
	if err != nil {
		return nil, err
	}
	renumbered := make(map[int]int, len(elements))
	for i, e := range elements {
		renumbered[e] = i
	}
	sub := *c
	sub.Array, sub.Pairs, sub.Data = array, nil, nil
	for p, pair := range c.Pairs {
		tx, hasTx := renumbered[pair.Tx]
		rx, hasRx := renumbered[pair.Rx]
		if !hasTx || !hasRx {
			continue
		}
		sub.Pairs = append(sub.Pairs, Pair{tx, rx})
		if c.Data != nil {
			sub.Data = append(sub.Data, c.Trace(p)...)
		}
	}
	if len(sub.Pairs) == 0 {
		return nil, fmt.Errorf("fmc: no pair among elements %v: want at least 1", elements)
	}
	return &sub, nil
}

// Gate returns the samples with from ≤ Time(k) ≤ to (s). FirstSample becomes the time of the first
// sample kept, so that every sample keeps its time. Samples are copied. Without Data the result has
// none either. Array, Events and Pairs are shared.
//
// A limit beyond the record, also -Inf or +Inf, means the end of the record. NaN is an error, and
// so are limits that leave no sample. A sample outside a limit by at most 1e-6 of the sample
// spacing is kept, so that rounding does not drop it.
func (c *Capture) Gate(from, to float64) (*Capture, error) {
	if err := c.checkSource(); err != nil {
		return nil, err
	}
	k, end := c.SampleRange(from, to)
	if k == end {
		return nil, fmt.Errorf("fmc: gate from %v to %v s: "+
			"want limits that enclose a sample of %v to %v s, every %v s", from, to, c.FirstSample, c.Time(c.Samples-1), 1/c.SampleRate)
	}
	gated := *c
	gated.Samples = end - k
	gated.FirstSample = c.Time(k)
	if c.Data == nil {
		return &gated, nil
	}
	gated.Data = make([]float32, len(c.Pairs)*gated.Samples)
	for p := range c.Pairs {
		copy(gated.Trace(p), c.Trace(p)[k:])
	}
	return &gated, nil
}

// SampleRange returns the first sample with from ≤ Time(k) ≤ to (s), and the sample after the last
// one. Limits have the meaning that they have for [Capture.Gate]. Both results are 0 if there is no
// such sample.
func (c *Capture) SampleRange(from, to float64) (first, end int) {
	const tolerance = 1e-6 // of the sample spacing
	f := math.Max(math.Ceil((from-c.FirstSample)*c.SampleRate-tolerance), 0)
	l := math.Min(math.Floor((to-c.FirstSample)*c.SampleRate+tolerance), float64(c.Samples-1))
	if !(f <= l) {
		return 0, 0
	}
	return int(f), int(l) + 1
}
