// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
)

// templateOf returns a copy of c without samples. Later changes of c do not change the copy.
func templateOf(c *fmc.Capture) *fmc.Capture {
	t := *c
	t.Data = nil
	t.Array.Elements = slices.Clone(c.Array.Elements)
	t.Pairs = slices.Clone(c.Pairs)
	t.Events = slices.Clone(c.Events)
	for i, e := range t.Events {
		t.Events[i] = fmc.Event{Delays: slices.Clone(e.Delays), Weights: slices.Clone(e.Weights)}
	}
	return &t
}

// checkFrame reports a frame that is not like the capture that a plan was made for: its times of
// flight would read the wrong samples. The pulse of the array may differ.
func checkFrame(template, c *fmc.Capture) error {
	if made, want := placesOfElements(c), placesOfElements(template); made != want {
		return fmt.Errorf("tfm: frame of other elements than the plan's: %v; want %v", made, want)
	}
	if newEventPath(c, nil) != newEventPath(template, nil) {
		return fmt.Errorf("tfm: frame of other events than the plan's: want the same delays and weights")
	}
	if len(c.Pairs) != len(template.Pairs) {
		return fmt.Errorf("tfm: frame of %d pairs: want %d, as the plan was made for", len(c.Pairs), len(template.Pairs))
	}
	for p, pair := range c.Pairs {
		if want := template.Pairs[p]; pair != want {
			return fmt.Errorf("tfm: frame with pair %d %v: want %v, in the order that the plan was made for", p, pair, want)
		}
	}
	if c.Samples != template.Samples {
		return fmt.Errorf("tfm: frame of %d samples a trace: want %d, as the plan was made for", c.Samples, template.Samples)
	}
	// Another computation of the same times rounds them in another way.
	const tolerance = 1e-6 // samples
	for _, k := range []int{0, c.Samples - 1} {
		if off := (c.Time(k) - template.Time(k)) * template.SampleRate; !(math.Abs(off) <= tolerance) {
			return fmt.Errorf("tfm: frame with sample %d at %.9g s: want %.9g s, as the plan was made for", k, c.Time(k), template.Time(k))
		}
	}
	return nil
}
