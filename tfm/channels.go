// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/tfm/internal/channel"
)

// The coherence of a pixel needs sums of functions of its channels, such as Σ |s|². The kernel
// computes them as it computes the image: from traces of the function ([channel]), which it
// interpolates linearly at the same delays. Two real functions fit into one complex trace.

// maxPasses is the largest number of complex traces that a measure needs.
const maxPasses = 2

// passes returns the number of complex traces that c needs.
func (c Coherence) passes() int {
	switch c {
	case NoCoherence:
		return 0
	case AuxiliaryPhaseCoherence:
		return 2
	}
	return 1
}

// bound returns what the functions of pass i for one channel do not exceed in modulus, and 0 if there
// is no such bound. With a bound the scale of 16 bits is the same for all images and bands.
func (c Coherence) bound(i int) float32 {
	const rounding = 1.0001
	switch c {
	case SignCoherence:
		return 1
	case VectorCoherence, CircularCoherence:
		return rounding * channel.MaxUnit
	case PhaseCoherence, AuxiliaryPhaseCoherence:
		if i == 0 {
			return rounding * math.Pi * math.Pi
		}
		return rounding * math.Pi
	}
	return 0
}

// maxChannel is the largest part of an analytic signal whose power fits into a float32, with room for
// sums.
const maxChannel = 1e15

// add adds the functions of the signal s, copies times, to dst, from sample from to sample to-1. It
// may write to phase.
func (c Coherence) add(dst []planes, s planes, copies float32, from, to int, phase []float32) error {
	re, im := s.re[from:to], s.im[from:to]
	phase = phase[from:to]
	if peak := max(vector.Peak(re), vector.Peak(im)); !(peak <= maxChannel) {
		return fmt.Errorf("tfm: analytic signal of %.4g: want %g at most for a coherence", peak, float64(maxChannel))
	}
	first, second := dst[0].re[from:to], dst[0].im[from:to]
	switch c {
	case CoherenceFactor:
		channel.AddPower(first, re, im, copies)
	case SignCoherence:
		channel.AddSign(first, re, copies)
	case VectorCoherence, CircularCoherence:
		channel.AddUnit(first, second, re, im, copies)
	case PhaseCoherence:
		channel.Phases(phase, re, im)
		channel.AddMoments(channel.Moments{Phase: first, Square: second}, phase, re, im, copies)
	case AuxiliaryPhaseCoherence:
		channel.Phases(phase, re, im)
		m := channel.Moments{Phase: first, Square: second, Sign: dst[1].re[from:to], Distance: dst[1].im[from:to]}
		channel.AddMoments(m, phase, re, im, copies)
	}
	return nil
}
