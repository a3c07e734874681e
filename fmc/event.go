// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"fmt"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Event is one transmission of several elements together: element i sends its pulse, multiplied by
// Weights[i], at the time Delays[i]. In linear media, the trace of an event is the sum of the
// traces of its elements,
//
//	y(t) = Σ Weights[i]·s_i(t − Delays[i]),
//
// where s_i is the trace from element i to the receiver. Package transmit makes the usual events:
// plane waves, diverging and focused beams, and codes.
type Event struct {
	Delays  []float64 // in s, one for each element, finite
	Weights []float64 // one for each element, finite, not all 0; an element of weight 0 is silent
}

// ErrEvents is wrapped by the errors of methods that need single elements: methods that use
// reciprocity or choose elements. Decode the capture of events first, with package transmit.
var ErrEvents = errors.New("fmc: a capture of events, not of single elements")

// EventPairs returns the pairs of every event with every receiver. The pair of event e and receiver
// rx is at p = e·receivers + rx. There are no pairs if a count is below 1.
func EventPairs(events, receivers int) []Pair {
	pairs := make([]Pair, 0, max(events, 0)*max(receivers, 0))
	for e := range events {
		for rx := range receivers {
			pairs = append(pairs, Pair{e, rx})
		}
	}
	return pairs
}

// Validate returns an error for the first field that is outside the range in its comment, for an
// array of the given number of elements.
func (e Event) Validate(elements int) error {
	if len(e.Delays) != elements || len(e.Weights) != elements {
		return fmt.Errorf("fmc: event of %d delays and %d weights: want %d of each, one an element",
			len(e.Delays), len(e.Weights), elements)
	}
	silent := true
	for i, d := range e.Delays {
		if !number.Finite(d) {
			return fmt.Errorf("fmc: delay %v s of element %d: want a finite value", d, i)
		}
		if !number.Finite(e.Weights[i]) {
			return fmt.Errorf("fmc: weight %v of element %d: want a finite value", e.Weights[i], i)
		}
		silent = silent && e.Weights[i] == 0
	}
	if silent {
		return errors.New("fmc: event of weights that are all 0: want at least one other")
	}
	return nil
}

// Transmissions returns the number of transmissions that the capture can have: the number of
// Events, or the number of elements if Events is nil. The Tx of each pair is below this number.
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
