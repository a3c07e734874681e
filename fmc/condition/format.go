// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
)

// format is what all captures of a chain, an average or a resampler have in common.
type format struct {
	pairs       []fmc.Pair
	samples     int
	rate, first float64
}

func formatOf(c *fmc.Capture) (format, error) {
	if err := c.ValidateTemplate(); err != nil {
		return format{}, fmt.Errorf("condition: capture to plan for: %w", err)
	}
	return format{slices.Clone(c.Pairs), c.Samples, c.SampleRate, c.FirstSample}, nil
}

// check returns an error for the first property in which c differs from the format. It does not
// look at the values of samples. The error calls the capture by its name.
func (f *format) check(name string, c *fmc.Capture) error {
	switch {
	case c == nil:
		return fmt.Errorf("condition: no %s: want a capture", name)
	case c.Samples != f.samples:
		return fmt.Errorf("condition: %s has %d samples a trace: want %d", name, c.Samples,
			f.samples)
	case c.SampleRate != f.rate:
		return fmt.Errorf("condition: %s has a sample rate of %v Hz: want %v Hz",
			name, c.SampleRate, f.rate)
	case c.FirstSample != f.first:
		return fmt.Errorf("condition: the first sample of %s is at %v s: want %v s",
			name, c.FirstSample, f.first)
	case len(c.Pairs) != len(f.pairs):
		return fmt.Errorf("condition: %s has %d pairs: want %d", name, len(c.Pairs), len(f.pairs))
	}
	for p, pair := range c.Pairs {
		if pair != f.pairs[p] {
			return fmt.Errorf("condition: pair %d of %s is %v: want %v", p, name, pair, f.pairs[p])
		}
	}
	if want := len(f.pairs) * f.samples; len(c.Data) != want {
		return fmt.Errorf("condition: %d samples in Data of %s: want %d", len(c.Data), name, want)
	}
	return nil
}

// gate returns the samples from ≤ k < to of c whose times lie within the limits (s), both included.
// Limits count to a millionth of the sample spacing, as in [fmc.Capture.Gate]. A limit beyond the
// record, also an infinite one, means the end of the record.
func gate(c *fmc.Capture, low, high float64) (from, to int, err error) {
	first := math.Max(math.Ceil((low-c.FirstSample)*c.SampleRate-tolerance), 0)
	last := math.Min(math.Floor((high-c.FirstSample)*c.SampleRate+tolerance), float64(c.Samples-1))
	if !(first <= last) {
		return 0, 0, fmt.Errorf("condition: gate from %v to %v s: "+
			"want limits that enclose a sample of %v to %v s, every %v s",
			low, high, c.FirstSample, c.Time(c.Samples-1), 1/c.SampleRate)
	}
	return int(first), int(last) + 1, nil
}

const tolerance = 1e-6 // of the sample spacing
