// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"

	"github.com/isochron-imaging/isochron/fmc"
)

// eventJSON is one event of a capture: a delay and a weight for each element.
type eventJSON struct {
	Delays  []float64 `json:"delays_s"`
	Weights []float64 `json:"weights"`
}

func newEventsJSON(events []fmc.Event) []eventJSON {
	var list []eventJSON
	for _, e := range events {
		list = append(list, eventJSON{Delays: e.Delays, Weights: e.Weights})
	}
	return list
}

// events returns the events that j lists, nil if there is no list.
func (j *captureJSON) events(elements int) ([]fmc.Event, error) {
	if j.Events != nil && len(j.Events) == 0 {
		return nil, setupError("capture.events", "of length 0", "at least 1")
	}
	var events []fmc.Event
	for i, e := range j.Events {
		event := fmc.Event{Delays: e.Delays, Weights: e.Weights}
		if err := event.Validate(elements); err != nil {
			return nil, fmt.Errorf("%w: capture.events[%d]: %w", ErrSetup, i, err)
		}
		events = append(events, event)
	}
	return events, nil
}
