// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// Gain is a time-varied gain. It multiplies the sample at time t by
//
//	g(t) = (t/Start)^Spreading · 10^(DecibelsPerSecond·(t − Start)/20) for t > Start
//
// and by 1 up to Start, but never by more than LimitDecibels. It levels echoes and noise alike, and
// does not change the ratio of the two. A field that is 0 has no effect, except LimitDecibels.
type Gain struct {
	// Start is the time in s up to which the gain is 1, finite. It is at most 100 times the length
	// of the record after the end of the record, and above 0 if Spreading is above 0.
	Start float64

	// DecibelsPerSecond is the exponential part, 0 to 1e9 dB/s of travel time. A value other than 0
	// must add at least 0.001 dB over the record, because a smaller one was most likely given in
	// dB/µs or dB/ms. An attenuation of a dB per metre of path at a speed of c m/s is a·c dB/s. An
	// attenuation of b dB per metre of depth, there and back, is b·c/2 dB/s.
	DecibelsPerSecond float64

	// Spreading is the exponent of the spreading law, 0 to 4. If the wave spreads over the whole
	// way to the receiver, as after a mirror-like reflection, it is 0.5 in two dimensions and 1 in
	// three. It is twice as much for a small reflector, whose echo spreads from the reflector
	// again.
	Spreading float64

	// LimitDecibels bounds the gain, above 0 and at most 200 dB. The default, for 0, is 60 dB
	// (common practice, no source).
	LimitDecibels float64
}

func (g Gain) compile(like *fmc.Capture) (runner, error) {
	if g.LimitDecibels == 0 {
		g.LimitDecibels = 60
	}
	latest, least := like.Time(101*like.Samples), 1e-3*like.SampleRate/float64(like.Samples)
	switch {
	case !(g.DecibelsPerSecond >= 0 && g.DecibelsPerSecond <= 1e9):
		return nil, fmt.Errorf("condition: gain of %v dB/s: want 0 to 1e9 dB/s",
			g.DecibelsPerSecond)
	case !(g.Spreading >= 0 && g.Spreading <= 4):
		return nil, fmt.Errorf("condition: spreading exponent %v: want 0 to 4", g.Spreading)
	case !number.Finite(g.Start) || g.Spreading > 0 && g.Start <= 0:
		return nil, fmt.Errorf("condition: start of the gain at %v s: "+
			"want a finite value, above 0 where the spreading exponent is", g.Start)
	case g.Start > max(0, latest):
		return nil, fmt.Errorf("condition: start of the gain at %v s: "+
			"want at most %.6g s, 100 times the length of the record after its end",
			g.Start, latest)
	case g.DecibelsPerSecond > 0 && g.DecibelsPerSecond < least:
		return nil, fmt.Errorf("condition: gain of %v dB/s: "+
			"want 0, or at least %.3g dB/s, which adds 0.001 dB over the record",
			g.DecibelsPerSecond, least)
	case !(g.LimitDecibels > 0 && g.LimitDecibels <= 200):
		return nil, fmt.Errorf("condition: limit of the gain at %v dB: want above 0 to 200 dB",
			g.LimitDecibels)
	}
	lead := make([]float32, like.Samples)
	for k := range lead {
		lead[k] = float32(g.at(like.Time(k)))
	}
	return weights{lead: lead}, nil
}

// at returns the gain at a time in s.
func (g Gain) at(t float64) float64 {
	if t <= g.Start {
		return 1
	}
	decibels := 0.0
	if g.DecibelsPerSecond > 0 { // 0 times a difference that overflows is NaN
		decibels += g.DecibelsPerSecond * (t - g.Start)
	}
	if g.Spreading > 0 {
		decibels += 20 * g.Spreading * math.Log10(t/g.Start)
	}
	return math.Pow(10, min(decibels, g.LimitDecibels)/20)
}
