// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"fmt"
)

// ErrNoTrace is wrapped by the errors of [Capture.Full], [Capture.Half] and
// [Capture.Select] where the capture holds a pair in neither direction.
var ErrNoTrace = errors.New("fmc: no trace of the pair in either direction")

// A Reduction tells which trace a half matrix keeps of two reciprocal ones.
type Reduction uint8

// The reductions. Where only one of the two was captured both keep that one.
const (
	Mean     Reduction = iota // the mean of tx→rx and rx→tx: keeps all the signal-to-noise ratio of the full matrix
	Captured                  // tx→rx, rx ≥ tx, as captured: what an instrument that records half the matrix would give
)

// String returns "mean" or "captured".
func (r Reduction) String() string {
	switch r {
	case Mean:
		return "mean"
	case Captured:
		return "captured"
	}
	return fmt.Sprintf("Reduction(%d)", uint8(r))
}

// Half returns the half matrix of the capture. Data are copied, Array is
// shared.
//
// [Mean] is the choice for imaging: where transmit and receive paths are
// alike, delay-and-sum over it, off-diagonal pairs counted twice, gives the
// image of the full matrix even if the two traces differ by noise. The mean is
// taken in float64 and rounded once, so that equal traces are kept bit for
// bit; it may leave half units of integer samples. [Captured] copies samples
// unchanged.
//
// The capture may have any layout in which every pair is present in one
// direction or both; otherwise the error wraps [ErrNoTrace]. That of a capture of
// events wraps [ErrEvents].
func (c *Capture) Half(reduction Reduction) (*Capture, error) {
	if reduction > Captured {
		return nil, fmt.Errorf("fmc: reduction %v: want mean or captured", reduction)
	}
	return c.rearranged(HalfPairs, func(dst, direct, twin []float32) {
		if reduction == Captured {
			copy(dst, direct)
			return
		}
		for k := range dst {
			dst[k] = float32((float64(direct[k]) + float64(twin[k])) / 2)
		}
	})
}

// Full returns the full matrix of the capture. A pair that was captured in one
// direction only stands in both, by reciprocity; samples are copied unchanged.
// Array is shared.
//
// The capture may have any layout in which every pair is present in one
// direction or both; otherwise the error wraps [ErrNoTrace]. That of a capture of
// events wraps [ErrEvents].
func (c *Capture) Full() (*Capture, error) {
	return c.rearranged(FullPairs, func(dst, direct, _ []float32) { copy(dst, direct) })
}

// rearranged returns a capture of the pairs that list gives. Each trace is
// made by fill from the captured trace of its pair and that of the reciprocal
// pair, where one that is missing is replaced by the other.
func (c *Capture) rearranged(list func(n int) []Pair, fill func(dst, direct, twin []float32)) (*Capture, error) {
	if c.Events != nil {
		return nil, fmt.Errorf("%w: want it decoded before it is rearranged", ErrEvents)
	}
	at := make(map[Pair]int, len(c.Pairs))
	for p, pair := range c.Pairs {
		at[pair] = p
	}
	// A capture of too few pairs fails here, before n² of anything is
	// allocated.
	n := len(c.Array.Elements)
	for tx := range n {
		for rx := tx; rx < n; rx++ {
			pair := Pair{tx, rx}
			_, direct := at[pair]
			_, twin := at[pair.Reciprocal()]
			if !direct && !twin {
				return nil, fmt.Errorf("%w: %v", ErrNoTrace, pair)
			}
		}
	}
	out := *c
	out.Pairs = list(n)
	out.Data = make([]float32, len(out.Pairs)*c.Samples)
	for p, pair := range out.Pairs {
		direct, hasDirect := at[pair]
		twin, hasTwin := at[pair.Reciprocal()]
		if !hasDirect {
			direct = twin
		}
		if !hasTwin {
			twin = direct
		}
		fill(out.Trace(p), c.Trace(direct), c.Trace(twin))
	}
	return &out, nil
}
