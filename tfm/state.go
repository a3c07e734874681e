// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import "strings"

// State is a set of reasons why a pixel may not show all that lies at its place. The zero value
// stands for a pixel that shows all of it.
type State uint8

const (
	// NoRay: for at least one pair that counts, no ray reaches the pixel. In a capture of events,
	// an element that receives has no ray, or no wave reaches the pixel.
	NoRay State = 1 << iota
	// BeforeRecord: for at least one pair that counts, the echo of the pixel comes before
	// the first sample of the record.
	BeforeRecord
	// AfterRecord: for at least one pair that counts, the echo of the pixel comes at the last
	// sample of the record or later. Interpolation also needs the sample after the echo.
	AfterRecord
	// Blank: no pair adds to the pixel. Its amplitude is 0, whatever lies there.
	Blank
	// CoarseGrid: an echo midway between this pixel and its neighbours may be more than 2 dB
	// stronger than each of these pixels (see the package documentation).
	CoarseGrid
	// Clipped: for at least one pair that counts, the pixel reads a sample at which the receiver
	// clipped, or a sample that the filter mixes with such a sample ([Options.FullScale]). The
	// amplitude is then too low, and its place uncertain.
	Clipped
	// GainLimited: a correction of the sensitivity needs a higher gain at this pixel than the limit
	// that was set. An echo is shown too low (package tfm/sensitivity).
	GainLimited
	// PartlyInsonified: the waves of some events that count do not reach the pixel, or none do. The
	// elements may have rays to it. With plane waves and virtual sources this is the rule, because
	// each wave insonifies only a part of the section. [Plan.Shares] says how much of the aperture
	// is replaced by the waves that reach the pixel.
	PartlyInsonified
)

// stateNames are the names of the states, in the order of their bits.
var stateNames = [...]string{"no ray", "before record", "after record", "blank", "coarse grid", "clipped", "gain limited", "partly insonified"}

// String returns the names of the states in s, such as "no ray, blank". It returns "complete" if s
// has no state.
func (s State) String() string {
	var names []string
	for i, name := range stateNames {
		if s&(1<<i) != 0 {
			names = append(names, name)
		}
	}
	if names == nil {
		return "complete"
	}
	return strings.Join(names, ", ")
}
