// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
)

// format is what the captures that a plan was made for have in common.
type format struct {
	pairs       []fmc.Pair
	samples     int
	rate, first float64
}

func formatOf(c *fmc.Capture) (format, error) {
	if c == nil {
		return format{}, fmt.Errorf("condition: no capture to plan for: want a valid one")
	}
	if err := c.Validate(); err != nil {
		return format{}, err
	}
	return format{slices.Clone(c.Pairs), c.Samples, c.SampleRate, c.FirstSample}, nil
}

// check reports whether the plan is for the frame c: all but the values of its
// samples.
func (f *format) check(name string, c *fmc.Capture) error {
	if c == nil {
		return fmt.Errorf("condition: no %s: want a capture", name)
	}
	if err := f.equal(name, &format{c.Pairs, c.Samples, c.SampleRate, c.FirstSample}); err != nil {
		return err
	}
	if want := len(f.pairs) * f.samples; len(c.Data) != want {
		return fmt.Errorf("condition: %d samples in Data of %s: want %d", len(c.Data), name, want)
	}
	return nil
}

// equal names the first field in which other differs.
func (f *format) equal(name string, other *format) error {
	switch {
	case other.samples != f.samples:
		return fmt.Errorf("condition: %s has %d samples a trace: want %d", name, other.samples, f.samples)
	case other.rate != f.rate:
		return fmt.Errorf("condition: %s has a sample rate of %v Hz: want %v Hz", name, other.rate, f.rate)
	case other.first != f.first:
		return fmt.Errorf("condition: the first sample of %s is at %v s: want %v s", name, other.first, f.first)
	case len(other.pairs) != len(f.pairs):
		return fmt.Errorf("condition: %s has %d pairs: want %d", name, len(other.pairs), len(f.pairs))
	}
	for p, pair := range other.pairs {
		if pair != f.pairs[p] {
			return fmt.Errorf("condition: pair %d of %s is %v: want %v", p, name, pair, f.pairs[p])
		}
	}
	return nil
}

// form and margin are what a step inherits from its format: most need no
// scratch.
func (f *format) form() *format { return f }

func (f *format) margin() int { return 0 }

func (f *format) time(k int) float64 { return f.first + float64(k)/f.rate }

// gate returns the samples from ≤ k < to whose times lie within the limits in
// s, both included, to a millionth of the sample spacing as [fmc.Capture.Gate]
// has it. Limits beyond the record, infinite ones too, mean its ends.
func (f *format) gate(low, high float64) (from, to int, err error) {
	first := math.Max(math.Ceil((low-f.first)*f.rate-tolerance), 0)
	last := math.Min(math.Floor((high-f.first)*f.rate+tolerance), float64(f.samples-1))
	if !(first <= last) {
		return 0, 0, fmt.Errorf("condition: gate from %v to %v s: want limits that enclose a sample of %v to %v s, every %v s",
			low, high, f.first, f.time(f.samples-1), 1/f.rate)
	}
	return int(first), int(last) + 1, nil
}

const tolerance = 1e-6 // of the sample spacing

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
