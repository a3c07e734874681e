// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"cmp"
	"fmt"
	"slices"
)

// Finding is a value that exceeds its limit.
type Finding struct {
	Kind Kind
	// Elements holds one element, the transmitter and the receiver of a pair, two exchanged
	// elements, or nothing for the whole capture.
	Elements []int `json:",omitempty"`
	// Transmit and Receive tell at which ends the elements are bad. Both are set if both ends are
	// bad, or if the capture cannot tell the ends apart. For a pair or the whole capture both are
	// false.
	Transmit, Receive bool
	Tone              Tone    `json:",omitzero"` // of Interference
	Value             float64 // measured value, in the unit of the limit
	Limit             float64 // limit that Value exceeds
}

// Kind tells what a finding is about. The value and the limit of a finding have the unit of the
// field of [Limits].
type Kind string

// The kinds, in the order of the findings in a report.
const (
	// NoEcho says that no echo stands out of the noise; value and limit are standard deviations.
	// By [Watch] it says that an element lost its echoes and the cause is not known, in dB.
	NoEcho    Kind = "no echo"
	Dead      Kind = "dead"      // an end without an echo
	Weak      Kind = "weak"      // an end with a loss against its neighbours
	Uncoupled Kind = "uncoupled" // lost echoes, while the initial pulse or other echoes are sound
	Reversed  Kind = "reversed"  // polarity against the other elements; the value is the likeness
	// Drift is a wrong time zero. The value is the drift less two standard errors.
	Drift          Kind = "drift of the time zero"
	Noisy          Kind = "noisy"               // noise of a receiver
	Offset         Kind = "offset"              // offset of a receiver
	Saturated      Kind = "saturated"           // clipped echo of a pair
	CrossTalk      Kind = "cross-talk"          // signal of a pair before any wave can arrive
	Reciprocity    Kind = "reciprocity"         // unlike traces of a pair in its two directions
	Spread         Kind = "spread"              // unlike sensitivity of the elements
	LowSNR         Kind = "low signal-to-noise" // weak echoes in the capture
	WrongFrequency Kind = "centre frequency"    // centre frequency of the capture
	NarrowBand     Kind = "narrow band"         // bandwidth of the capture
	Interference   Kind = "interference"        // a steady tone
	LostShots      Kind = "lost shots"          // lost traces of an end whose other traces are sound
	Jitter         Kind = "jitter"              // time zero of an end that changes between traces
	Spike          Kind = "spike"               // sample of a pair that nothing around explains
	Coarse         Kind = "coarse steps"        // step of a receiver's numbers
	GainDrift      Kind = "gain drift"          // gain against the first frames, by [Watch]
	Recovered      Kind = "recovered"           // element or gain as at first again, by [Watch]
	Exchanged      Kind = "exchanged"           // two elements in the place of each other
	WrongRate      Kind = "sample rate"         // sample rate against the echo of a known wall
)

// kinds lists the kinds in the order of the findings, with their units.
var kinds = []struct {
	kind Kind
	unit string
}{
	{NoEcho, " sd"}, {Dead, " dB"}, {Weak, " dB"}, {Uncoupled, " dB"}, {Reversed, ""},
	{Drift, " periods"}, {Noisy, " dB"}, {Offset, ""}, {Saturated, ""}, {CrossTalk, ""},
	{Reciprocity, ""}, {Spread, " dB"}, {LowSNR, " dB"}, {WrongFrequency, ""}, {NarrowBand, ""},
	{Interference, ""}, {LostShots, ""}, {Jitter, " periods"}, {Spike, ""}, {Coarse, ""},
	{GainDrift, " dB"}, {Recovered, " dB"}, {Exchanged, ""}, {WrongRate, ""},
}

// rank returns the place of a kind in kinds, and -1 for an unknown one.
func rank(k Kind) int {
	for i, o := range kinds {
		if o.kind == k {
			return i
		}
	}
	return -1
}

// sorted sorts findings by kind, then by element or pair.
func sorted(findings []Finding) {
	slices.SortStableFunc(findings, func(x, y Finding) int {
		return cmp.Or(cmp.Compare(rank(x.Kind), rank(y.Kind)), slices.Compare(x.Elements, y.Elements))
	})
}

// String returns the finding in a line: "weak: element 3: 6.1 dB, limit 4 dB".
func (f Finding) String() string {
	where := ""
	switch {
	case len(f.Elements) == 1:
		where = fmt.Sprintf("element %d: ", f.Elements[0])
	case len(f.Elements) == 2 && f.Kind == Exchanged:
		where = fmt.Sprintf("elements %d and %d: ", f.Elements[0], f.Elements[1])
	case len(f.Elements) == 2:
		where = fmt.Sprintf("pair %d→%d: ", f.Elements[0], f.Elements[1])
	case f.Kind == Interference:
		where = fmt.Sprintf("%.4g MHz in %.0f %% of the traces: ", f.Tone.Frequency/1e6, 100*f.Tone.Share)
	}
	switch {
	case f.Transmit && !f.Receive:
		where += "transmit: "
	case f.Receive && !f.Transmit:
		where += "receive: "
	}
	unit := ""
	if i := rank(f.Kind); i >= 0 {
		unit = kinds[i].unit
	}
	if f.Kind == NoEcho && len(f.Elements) == 1 {
		unit = " dB"
	}
	return fmt.Sprintf("%s: %s%.3g%s, limit %.3g%s", f.Kind, where, f.Value, unit, f.Limit, unit)
}
