// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
)

// ofEvents returns a capture of events without delays, with n elements as receivers, filled with
// seeded noise.
func ofEvents(t testing.TB, events, n, samples int) *Capture {
	t.Helper()
	c := *random(t, n, FullPairs(n), samples)
	for range events {
		e := Event{Delays: make([]float64, n), Weights: make([]float64, n)}
		e.Weights[0] = 1
		c.Events = append(c.Events, e)
	}
	c.Pairs, c.Data = EventPairs(events, n), make([]float32, events*n*samples)
	rng := rand.New(rand.NewPCG(uint64(events), uint64(n)))
	for i := range c.Data {
		c.Data[i] = float32(rng.NormFloat64())
	}
	return check.Must(New(c))
}

// TestEventLayout checks the formula: sample k of event e at receiver r is Data[(e·N + r)·K + k].
// The events are fewer than the elements, as many, and more.
func TestEventLayout(t *testing.T) {
	const n, samples = 3, 4
	for _, events := range []int{1, 2, 3, 7} {
		c := ofEvents(t, events, n, samples)
		if c.Layout() != Full || c.Transmissions() != events {
			t.Errorf("%d events: layout %v of %d transmissions", events, c.Layout(),
				c.Transmissions())
		}
		for e := range events {
			for r := range n {
				p, ok := c.Index(e, r)
				if !ok || p != e*n+r {
					t.Errorf("%d events: event %d at receiver %d is pair %d, %v, want %d", events,
						e, r, p, ok, e*n+r)
				}
				trace, ok := c.Between(e, r)
				if !ok || &trace[0] != &c.Data[p*samples] {
					t.Errorf("%d events: wrong trace of event %d at receiver %d", events, e, r)
				}
			}
		}
		if _, ok := c.Index(events, 0); ok {
			t.Errorf("%d events: found event %d", events, events)
		}
	}
	// An event has no reciprocal trace, even if a pair with swapped numbers exists.
	c := ofEvents(t, 3, n, samples)
	c.Pairs, c.Data = HalfPairs(n), c.Data[:6*samples]
	if _, ok := c.Between(1, 0); ok || c.Layout() != Listed {
		t.Errorf("layout %v, with the trace of event 0 taken for that of event 1", c.Layout())
	}
	for _, counts := range [][2]int{{0, 3}, {3, 0}, {-1, 3}, {3, -1}, {-1, -1}} {
		if got := EventPairs(counts[0], counts[1]); len(got) != 0 {
			t.Errorf("%d pairs of %v", len(got), counts)
		}
	}
}

func TestEventsAreNotRearranged(t *testing.T) {
	c := ofEvents(t, 3, 3, 4)
	_, full := c.Full()
	_, half := c.Half()
	_, sub := c.SubAperture([]int{0, 1})
	for name, err := range map[string]error{"full": full, "half": half, "sub-aperture": sub} {
		if !errors.Is(err, ErrEvents) {
			t.Errorf("%s: error %v, want %v", name, err, ErrEvents)
		}
	}
	gated := check.Must(c.Gate(c.Time(1), c.Time(2)))
	if diff := cmp.Diff(c.Events, gated.Events); diff != "" || gated.Samples != 2 {
		t.Errorf("gate of %d samples, events (-want +got):\n%s", gated.Samples, diff)
	}
	if err := gated.Validate(); err != nil {
		t.Error(err)
	}
}

func TestEventsRefused(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		name   string
		change func(*Capture)
		want   string
	}{
		{"no events", func(c *Capture) { c.Events = []Event{} }, "0 events: want at least 1"},
		{"a delay short", func(c *Capture) { c.Events[1].Delays = c.Events[1].Delays[1:] },
			"event of 2 delays and 3 weights: want 3 of each, one an element (event 1)"},
		{"a weight over", func(c *Capture) { c.Events[0].Weights = make([]float64, 4) },
			"event of 3 delays and 4 weights"},
		{"delay NaN", func(c *Capture) { c.Events[1].Delays[2] = nan },
			"delay NaN s of element 2: want a finite value (event 1)"},
		{"delay Inf", func(c *Capture) { c.Events[1].Delays[2] = -inf },
			"delay -Inf s of element 2"},
		{"weight NaN", func(c *Capture) { c.Events[1].Weights[0] = nan },
			"weight NaN of element 0"},
		{"weight Inf", func(c *Capture) { c.Events[1].Weights[0] = inf },
			"weight +Inf of element 0"},
		{"silence", func(c *Capture) { c.Events[1].Weights[0] = 0 }, "weights that are all 0"},
		{"event beyond the list", func(c *Capture) { c.Pairs[5].Tx = 2 },
			"pair 5 is 2→2: want events 0 to 1 and elements 0 to 2"},
		{"receiver beyond the array", func(c *Capture) { c.Pairs[5].Rx = 3 },
			"pair 5 is 1→3: want events 0 to 1 and elements 0 to 2"},
		{"a pair twice", func(c *Capture) { c.Pairs[5].Rx = 0 }, "pairs 3 and 5 are both 1→0"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			c := ofEvents(t, 2, 3, 2)
			test.change(c)
			check.Error(t, c.Validate(), "fmc: ", test.want)
		})
	}
}
