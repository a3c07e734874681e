// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"context"
	"fmt"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm"
)

// signals holds the analytic signals of the traces of a capture.
type signals struct {
	capture *fmc.Capture
	data    []complex64 // as the samples of the capture
}

// newSignals returns the signals of a capture of single elements in one section.
func newSignals(ctx context.Context, c *fmc.Capture, band tfm.Band, workers int) (*signals, error) {
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("tips: %w", err)
	}
	if c.Events != nil {
		return nil, fmt.Errorf("tips: %w: want a capture of single elements", fmc.ErrEvents)
	}
	for i, e := range c.Array.Elements {
		if e.Y != c.Array.Elements[0].Y {
			return nil, fmt.Errorf("tips: y of element %d %v m, of element 0 %v m: want one section", i, e.Y, c.Array.Elements[0].Y)
		}
	}
	if band == (tfm.Band{}) {
		band = tfm.DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
	}
	transform, err := tfm.NewAnalytic(c.Samples, c.SampleRate, band)
	if err != nil {
		return nil, fmt.Errorf("tips: %w", err)
	}
	s := &signals{c, make([]complex64, len(c.Data))}
	err = parallel.Do(ctx, len(c.Pairs), parallel.Options{Workers: workers}, func() func(int) error {
		return func(p int) error {
			return transform.Transform(s.trace(p), c.Trace(p))
		}
	})
	if err != nil {
		return nil, fmt.Errorf("tips: %w", err)
	}
	return s, nil
}

// trace returns the signal of a trace.
func (s *signals) trace(p int) []complex64 {
	n := s.capture.Samples
	return s.data[p*n : (p+1)*n]
}

// sample returns the number of the sample at a time in s, with fractions.
func (s *signals) sample(time float64) float64 {
	return (time - s.capture.FirstSample) * s.capture.SampleRate
}

// channel is a trace in one direction of travel.
type channel struct {
	trace, tx, rx int
	weight        float64 // the number of directions that it stands for
}

// channels returns the channels of a view of a capture. In a half matrix a trace of two elements
// stands for both directions. In a symmetric view the signal and the prediction of both directions
// are the same, and one channel counts twice.
func channels(c *fmc.Capture, symmetric bool) []channel {
	var out []channel
	for p, pair := range c.Pairs {
		both := c.Layout() == fmc.Half && pair.Tx != pair.Rx
		one := channel{p, pair.Tx, pair.Rx, 1}
		if both && symmetric {
			one.weight = 2
		}
		out = append(out, one)
		if both && !symmetric {
			out = append(out, channel{p, pair.Rx, pair.Tx, 1})
		}
	}
	return out
}
