// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// Check judges the frames of a source, to its end. If the source fails, Check returns the report of
// the frames before, and the error.
func Check(ctx context.Context, source fmc.FrameSource, options *Options) (*Report, error) {
	c, err := NewChecker(options)
	if err != nil {
		return nil, err
	}
	for frame, err := range fmc.Frames(ctx, source) {
		if err == nil {
			err = c.Add(frame)
		}
		if err != nil {
			return c.Report(), err
		}
	}
	return c.Report(), nil
}

// Checker judges the frames of a scan one after the other. It keeps no samples: a frame takes about
// 150 bytes, whatever its capture. It is not for several goroutines at once.
type Checker struct {
	options Options
	limits  Limits
	like    *fmc.Capture // first frame without its samples, nil before it
	gates   []span
	pairs   [][]int // measured in each gate
	window  span

	readings []reading
	levels   []float64 // root mean square by reading and gate, NaN if not known
	seen     map[uint64]struct{}
}

// reading is what a frame leaves.
type reading struct {
	frame     fmc.Frame // without its capture
	nonFinite int       // samples
	saturated float64   // share, NaN if not known
	shape     bool      // wrong
	stuck     bool
}

// NewChecker returns a checker before the first frame.
func NewChecker(options *Options) (*Checker, error) {
	c := &Checker{seen: map[uint64]struct{}{}}
	if options != nil {
		c.options = *options
		c.options.Gates = slices.Clone(options.Gates)
	}
	if err := c.options.validate(); err != nil {
		return nil, err
	}
	var err error
	c.limits, err = c.options.Limits.complete()
	return c, err
}

// Add measures the next frame in the order in which the frames were taken. It does not keep the
// capture. All faults of a frame make findings, except those that Add refuses: no capture; a time
// that is not finite; a position that is not finite or beyond ±1e6 m. Add also refuses a first
// capture that no gate fits, or that is not valid apart from its samples. A refused frame leaves
// the checker as it was.
func (c *Checker) Add(frame fmc.Frame) error {
	err := checkLengths(length{"position along", frame.Position},
		length{"position across", frame.Across})
	if err != nil {
		return fmt.Errorf("%w, in frame %d", err, frame.Index)
	}
	if !number.Finite(frame.Time) {
		return fmt.Errorf("scan: time %v s of frame %d: want a finite value", frame.Time, frame.Index)
	}
	if frame.Capture == nil {
		return fmt.Errorf("scan: frame %d without a capture", frame.Index)
	}
	if c.like == nil {
		if err := c.begin(frame.Capture); err != nil {
			return fmt.Errorf("%w, in frame %d", err, frame.Index)
		}
	}
	c.measure(frame)
	return nil
}

// begin prepares for captures like the first one.
func (c *Checker) begin(first *fmc.Capture) error {
	var bad *fmc.SampleError
	if err := first.Validate(); err != nil && !errors.As(err, &bad) {
		return err
	}
	c.gates, c.pairs = nil, nil
	for _, g := range c.options.Gates {
		s, err := samples(first, g.Name, g.Gate)
		if err != nil {
			return err
		}
		c.gates, c.pairs = append(c.gates, s), append(c.pairs, within(first, g.Reach))
	}
	c.window = behindPulse(first)
	if c.options.Window != (health.Gate{}) {
		var err error
		if c.window, err = samples(first, "window", c.options.Window); err != nil {
			return err
		}
	}
	like := *first
	like.Data = nil
	c.like = &like
	return nil
}

// within returns the pairs at most reach elements apart, or all pairs if there is none.
func within(c *fmc.Capture, reach int) []int {
	var near, all []int
	for p, pair := range c.Pairs {
		all = append(all, p)
		if d := pair.Tx - pair.Rx; c.Events == nil && d <= reach && -d <= reach {
			near = append(near, p)
		}
	}
	if near == nil {
		return all
	}
	return near
}

// measure keeps what the report needs of a frame.
func (c *Checker) measure(frame fmc.Frame) {
	capture := frame.Capture
	frame.Capture = nil
	r := reading{frame: frame, saturated: math.NaN()}
	if !capture.Alike(c.like) || len(capture.Data) != len(capture.Pairs)*capture.Samples {
		r.shape = true
	} else {
		var print uint64
		print, r.nonFinite = fingerprint(capture.Data)
		_, r.stuck = c.seen[print]
		c.seen[print] = struct{}{}
	}
	sound := !r.shape && r.nonFinite == 0
	if sound {
		r.saturated = saturation(capture, c.window, c.options.FullScale)
	}
	for g := range c.gates {
		level := math.NaN()
		if sound {
			level = amplitude(capture, c.pairs[g], c.gates[g])
		}
		c.levels = append(c.levels, level)
	}
	c.readings = append(c.readings, r)
}

// fingerprint returns a hash of the samples, and the number of samples that are not finite. Two
// captures that differ have the same hash with a probability of 2^-64 or so.
func fingerprint(data []float32) (hash uint64, nonFinite int) {
	const exponent, odd = 0xff << 23, 0x9e3779b97f4a7c15 // the golden ratio, as hashes of Fibonacci use it
	hash = odd
	for i, v := range data {
		b := math.Float32bits(v)
		if b&exponent == exponent {
			nonFinite++
		}
		high, low := bits.Mul64(hash^uint64(b)^uint64(i)<<32, odd)
		hash = high ^ low
	}
	return hash, nonFinite
}

// saturation returns the share of the samples of the window that are clipped.
func saturation(c *fmc.Capture, w span, fullScale float64) float64 {
	if w.first == w.end {
		return 0
	}
	run := 1
	if fullScale == 0 {
		run = 3
		for p := range c.Pairs {
			fullScale = max(fullScale, float64(vector.Peak(c.Trace(p)[w.first:w.end])))
		}
	}
	clipped := 0
	for p := range c.Pairs {
		clipped += number.Clipped(c.Trace(p)[w.first:w.end], fullScale, run)
	}
	return float64(clipped) / float64(len(c.Pairs)*(w.end-w.first))
}

// amplitude returns the root mean square of the samples of some pairs in a gate. The mean of each
// trace in the gate is removed first: an offset of the receiver is no echo.
func amplitude(c *fmc.Capture, pairs []int, g span) float64 {
	energy := 0.0
	for _, p := range pairs {
		x := c.Trace(p)[g.first:g.end]
		mean := 0.0
		for _, v := range x {
			mean += float64(v) / float64(len(x))
		}
		for _, v := range x {
			d := float64(v) - mean
			energy += d * d
		}
	}
	return math.Sqrt(energy / float64(len(pairs)*(g.end-g.first)))
}
