// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"fmt"
)

// Event is one transmission of several elements together: element i sends
// Weights[i] times its pulse, Delays[i] after time 0. In linear media the traces
// of an event are the sum of what its elements would give alone,
//
//	Σ Weights[i] · trace of i→rx, Delays[i] later.
//
// Package transmit makes the usual events: plane waves, diverging and focused
// beams, codes.
type Event struct {
	Delays  []float64 // in s, one for each element, finite
	Weights []float64 // one for each element, finite and not all 0; 0 is an element that is silent
}

// ErrEvents is wrapped by the errors of methods that rely on reciprocity, or on
// pairs of elements, when the capture has events of several elements. Decode it
// first, with package transmit.
var ErrEvents = errors.New("fmc: a capture of events, not of single elements")

// EventPairs returns the pairs of every event with every receiver, the pair of
// event e and receiver rx at p = e·receivers + rx; none where a count is below 1.
func EventPairs(events, receivers int) []Pair {
	pairs := make([]Pair, 0, max(events, 0)*max(receivers, 0))
	for e := range events {
		for rx := range receivers {
			pairs = append(pairs, Pair{e, rx})
		}
	}
	return pairs
}

// Validate reports the first field outside the range that its comment gives, for
// an array of so many elements.
func (e Event) Validate(elements int) error {
	if len(e.Delays) != elements || len(e.Weights) != elements {
		return fmt.Errorf("fmc: event of %d delays and %d weights: want %d of each, one an element", len(e.Delays), len(e.Weights), elements)
	}
	silent := true
	for i, d := range e.Delays {
		if !finite(d) {
			return fmt.Errorf("fmc: delay %v s of element %d: want a finite value", d, i)
		}
		if !finite(e.Weights[i]) {
			return fmt.Errorf("fmc: weight %v of element %d: want a finite value", e.Weights[i], i)
		}
		silent = silent && e.Weights[i] == 0
	}
	if silent {
		return errors.New("fmc: event of weights that are all 0: want at least one other")
	}
	return nil
}

// Transmissions returns the number of things that a capture can transmit: that of
// its events or, without, of its elements. The Tx of a pair lies below it.
func (c *Capture) Transmissions() int {
	if c.Events != nil {
		return len(c.Events)
	}
	return len(c.Array.Elements)
}

func (c *Capture) validateEvents() error {
	if c.Events != nil && len(c.Events) == 0 {
		return errors.New("fmc: 0 events: want at least 1, or nil for elements that fire alone")
	}
	for i, e := range c.Events {
		if err := e.Validate(len(c.Array.Elements)); err != nil {
			return fmt.Errorf("%w (event %d)", err, i)
		}
	}
	return nil
}
