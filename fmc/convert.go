// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"fmt"
	"slices"
)

// ErrNoTrace is wrapped by the errors of [Capture.Full], [Capture.Half] and [Capture.Select] if the
// capture holds a pair in neither direction.
var ErrNoTrace = errors.New("fmc: no trace of the pair in either direction")

// Half returns the half matrix of the capture. A trace is the mean of tx→rx and rx→tx. If only one
// of the two was captured, the trace is that one. Data are copied, Array is shared. Without Data the
// result has none either.
//
// The mean keeps the signal-to-noise ratio of the full matrix. If transmit and receive paths are
// equal, both matrices give the same image, even if the two traces differ by noise. Off-diagonal
// pairs of the half matrix then count twice in the sum. The mean is taken in float64 and rounded
// once, so that two equal traces are kept bit for bit. The mean of integer samples may be half an
// integer.
//
// An instrument that records half the matrix gives the traces without a mean:
// c.Select(HalfPairs(n)) for n elements.
//
// The capture may have any layout that holds every pair in one direction or both. Otherwise the
// error wraps [ErrNoTrace]. The error for a capture of events wraps [ErrEvents].
func (c *Capture) Half() (*Capture, error) {
	find := c.finder()
	if err := c.validateComplete(find); err != nil {
		return nil, err
	}
	half, err := c.Select(HalfPairs(len(c.Array.Elements)))
	if err != nil || c.Data == nil {
		return half, err
	}
	for p, pair := range half.Pairs {
		if twin, ok := find(pair.Rx, pair.Tx); ok {
			dst := half.Trace(p)
			for k, v := range c.Trace(twin) {
				dst[k] = float32((float64(dst[k]) + float64(v)) / 2)
			}
		}
	}
	return half, nil
}

// Full returns the full matrix of the capture. If a pair was captured in one direction only, its
// trace stands in both directions, by reciprocity. Samples are copied unchanged. Without Data the
// result has none either. Array is shared.
//
// The capture may have any layout that holds every pair in one direction or both. Otherwise the
// error wraps [ErrNoTrace]. The error for a capture of events wraps [ErrEvents].
func (c *Capture) Full() (*Capture, error) {
	if err := c.validateComplete(c.finder()); err != nil {
		return nil, err
	}
	return c.Select(FullPairs(len(c.Array.Elements)))
}

// Select returns the traces of the given pairs in the given order, e.g. of [SparsePairs]. If a pair
// was captured only in the other direction, that trace stands for it, by reciprocity. Samples are
// copied unchanged. Without Data the result has none either. Array and Events are shared. An event
// has no reciprocal trace.
//
// It wants at least one pair, all distinct. The error wraps [ErrNoTrace] if the capture holds a
// pair in neither direction.
func (c *Capture) Select(pairs []Pair) (*Capture, error) {
	out := *c
	out.Pairs = slices.Clone(pairs)
	if err := out.ValidateTemplate(); err != nil {
		return nil, err
	}
	if err := c.checkSource(); err != nil {
		return nil, err
	}
	find := c.finder()
	if c.Data != nil {
		out.Data = make([]float32, len(pairs)*c.Samples)
	}
	for p, pair := range pairs {
		at, ok := find(pair.Tx, pair.Rx)
		if !ok && c.Events == nil {
			at, ok = find(pair.Rx, pair.Tx)
		}
		if !ok {
			return nil, fmt.Errorf("%w: %v", ErrNoTrace, pair)
		}
		if c.Data != nil {
			copy(out.Trace(p), c.Trace(at))
		}
	}
	return &out, nil
}

// finder returns a function that does the same as Index in constant time, for every layout.
func (c *Capture) finder() func(tx, rx int) (p int, ok bool) {
	if c.Layout() != Listed {
		return c.Index
	}
	at := make(map[Pair]int, len(c.Pairs))
	for p, pair := range c.Pairs {
		at[pair] = p
	}
	return func(tx, rx int) (int, bool) {
		p, ok := at[Pair{tx, rx}]
		return p, ok
	}
}

// validateComplete returns an error if a pair of elements is missing in both directions. It
// allocates nothing: n² pairs of a large n may not fit into memory.
func (c *Capture) validateComplete(find func(tx, rx int) (int, bool)) error {
	if c.Events != nil {
		return fmt.Errorf("%w: want it decoded before it is rearranged", ErrEvents)
	}
	n := len(c.Array.Elements)
	for tx := range n {
		for rx := tx; rx < n; rx++ {
			if _, ok := find(tx, rx); ok {
				continue
			}
			if _, ok := find(rx, tx); !ok {
				return fmt.Errorf("%w: %v", ErrNoTrace, Pair{tx, rx})
			}
		}
	}
	return nil
}
