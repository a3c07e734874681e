// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"fmt"
	"math"
	"slices"
)

// SubAperture returns the capture of some elements alone, renumbered from 0:
// the pairs whose ends both belong to them, in their order. The layouts full
// and half are kept. Samples are copied.
//
// It wants at least one element, in strictly ascending order, each in 0 … N−1,
// and at least one pair among them. The error of a capture of events wraps
// [ErrEvents].
func (c *Capture) SubAperture(elements []int) (*Capture, error) {
	if c.Events != nil {
		return nil, fmt.Errorf("%w: want it decoded before elements are left out", ErrEvents)
	}
	array, err := c.Array.Sub(elements)
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
		if hasTx && hasRx {
			sub.Pairs = append(sub.Pairs, Pair{tx, rx})
			sub.Data = append(sub.Data, c.Trace(p)...)
		}
	}
	if len(sub.Pairs) == 0 {
		return nil, fmt.Errorf("fmc: no pair among elements %v: want at least 1", elements)
	}
	return &sub, nil
}

// Select returns the traces of the given pairs, in their order, such as [SparsePairs]:
// each as captured, or where that is missing as captured the other way, by
// reciprocity. Samples are copied unchanged; Array and Events are shared.
//
// It wants at least one pair, all distinct. The error wraps [ErrNoTrace] if the
// capture holds a pair in neither direction.
func (c *Capture) Select(pairs []Pair) (*Capture, error) {
	selected := *c
	selected.Pairs, selected.Data = slices.Clone(pairs), nil
	out, err := New(selected)
	if err != nil {
		return nil, err
	}
	for p, pair := range pairs {
		trace, ok := c.Between(pair.Tx, pair.Rx)
		if !ok {
			return nil, fmt.Errorf("%w: %v", ErrNoTrace, pair)
		}
		copy(out.Trace(p), trace)
	}
	return out, nil
}

// Gate returns the part of the capture from one time to another in s, both
// included: the samples with from ≤ Time(k) ≤ to. FirstSample becomes the time
// of the first sample kept, so that every sample keeps its time. Samples are
// copied; Array, Events and Pairs are shared.
//
// Limits beyond the record, -Inf and +Inf too, mean its ends. NaN and limits
// that leave no sample are errors. A sample within 1e-6 of the sample spacing
// outside a limit counts as on it, so that rounding does not drop it.
func (c *Capture) Gate(from, to float64) (*Capture, error) {
	const tolerance = 1e-6 // of the sample spacing
	first := math.Max(math.Ceil((from-c.FirstSample)*c.SampleRate-tolerance), 0)
	last := math.Min(math.Floor((to-c.FirstSample)*c.SampleRate+tolerance), float64(c.Samples-1))
	if !(first <= last) {
		return nil, fmt.Errorf("fmc: gate from %v to %v s: want limits that enclose a sample of %v to %v s, every %v s",
			from, to, c.FirstSample, c.Time(c.Samples-1), 1/c.SampleRate)
	}
	k := int(first)
	gated := *c
	gated.Samples = int(last) - k + 1
	gated.FirstSample = c.Time(k)
	gated.Data = make([]float32, len(c.Pairs)*gated.Samples)
	for p := range c.Pairs {
		copy(gated.Trace(p), c.Trace(p)[k:])
	}
	return &gated, nil
}
