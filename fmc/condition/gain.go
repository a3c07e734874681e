// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// Gain is a time-varied gain: it multiplies the sample at time t by
//
//	g(t) = (t/Start)^Spreading · 10^(DecibelsPerSecond·(t − Start)/20) for t > Start
//
// and by 1 up to Start, but never by more than LimitDecibels allow. It levels
// echoes and noise alike; the ratio of the two stays.
type Gain struct {
	format
	options GainOptions
	weights []float32
}

// GainOptions are the options of a [Gain]. A zero field has no effect, but for
// LimitDecibels.
type GainOptions struct {
	// Start is the time in s up to which the gain is 1, finite, at most 100 times the
	// length of the record after its end, and above 0 if Spreading is.
	Start float64

	// DecibelsPerSecond is the exponential part, 0 to 1e9 dB/s of travel time. Unless it
	// is 0, it adds at least 0.001 dB over the record: less was most likely given in
	// dB/µs or dB/ms.
	// An attenuation of a dB per metre of path at a speed of c m/s is a·c dB/s.
	// One of b dB per metre of depth, there and back, is b·c/2 dB/s.
	DecibelsPerSecond float64

	// Spreading is the exponent of the spreading law, 0 to 4: 0.5 where waves
	// spread in two dimensions, 1 in three, over the whole way to the receiver,
	// as after a mirror-like reflection. Twice as much for a reflector that is
	// small and spreads its echo anew.
	Spreading float64

	// LimitDecibels bounds the gain, above 0 and at most 200 dB. The default
	// is 60 dB (common practice, no source).
	LimitDecibels float64
}

// NewGain returns the gain for captures like the given one.
func NewGain(like *fmc.Capture, options GainOptions) (*Gain, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	o := options
	if o.LimitDecibels == 0 {
		o.LimitDecibels = 60
	}
	switch {
	case !(o.DecibelsPerSecond >= 0 && o.DecibelsPerSecond <= 1e9):
		return nil, fmt.Errorf("condition: gain of %v dB/s: want 0 to 1e9 dB/s", o.DecibelsPerSecond)
	case !(o.Spreading >= 0 && o.Spreading <= 4):
		return nil, fmt.Errorf("condition: spreading exponent %v: want 0 to 4", o.Spreading)
	case !finite(o.Start) || o.Spreading > 0 && o.Start <= 0:
		return nil, fmt.Errorf("condition: start of the gain at %v s: want a finite value, above 0 where the spreading exponent is", o.Start)
	case o.Start > max(0, f.time(101*f.samples)):
		return nil, fmt.Errorf("condition: start of the gain at %v s: want at most %.6g s, 100 times the length of the record after its end", o.Start, f.time(101*f.samples))
	case o.DecibelsPerSecond > 0 && o.DecibelsPerSecond < 1e-3*f.rate/float64(f.samples):
		return nil, fmt.Errorf("condition: gain of %v dB/s: want 0, or at least %.3g dB/s, which adds 0.001 dB over the record", o.DecibelsPerSecond, 1e-3*f.rate/float64(f.samples))
	case !(o.LimitDecibels > 0 && o.LimitDecibels <= 200):
		return nil, fmt.Errorf("condition: limit of the gain at %v dB: want above 0 to 200 dB", o.LimitDecibels)
	}
	g := &Gain{format: f, options: o, weights: make([]float32, f.samples)}
	for k := range g.weights {
		g.weights[k] = float32(g.At(f.time(k)))
	}
	return g, nil
}

// At returns the gain at a time in s, inside the record or not; 1 at NaN.
func (g *Gain) At(t float64) float64 {
	o := g.options
	if !(t > o.Start) {
		return 1
	}
	decibels := 0.0
	if o.DecibelsPerSecond > 0 { // 0 times an infinite time is no number
		decibels += o.DecibelsPerSecond * (t - o.Start)
	}
	if o.Spreading > 0 {
		decibels += 20 * o.Spreading * math.Log10(t/o.Start)
	}
	return math.Pow(10, min(decibels, o.LimitDecibels)/20)
}

func (g *Gain) run(_ int, trace, _ []float32) { vector.Multiply(trace, g.weights) }
