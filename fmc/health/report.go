// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"encoding/json"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
)

// Number is a measured value, NaN where the capture does not hold what it is
// measured from. In JSON, NaN is null.
type Number float64

// Known reports whether the value was measured.
func (n Number) Known() bool { return !math.IsNaN(float64(n)) }

// MarshalJSON returns the number, or null for NaN.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.Known() {
		return []byte("null"), nil
	}
	return json.Marshal(float64(n))
}

// UnmarshalJSON reads a number, or NaN from null.
func (n *Number) UnmarshalJSON(b []byte) error {
	v := new(float64)
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	*n = Number(math.NaN())
	if v != nil {
		*n = Number(*v)
	}
	return nil
}

var unknown = Number(math.NaN())

// Report is the health of a capture. Every level in dB is 20·log10 of a ratio of
// amplitudes, kept within ±120 dB.
type Report struct {
	Noise, Echo, Coupling Gate // the gates used, s

	NoiseFloor      Number // median of the noise of all pairs, in the unit of the samples
	EchoPeak        Number // median of the echo peaks of all pairs, in the unit of the samples
	SNR             Number // median of the signal-to-noise ratio of all pairs, dB
	Spread          Number // largest less smallest two-way Relative of the elements without loss, dB
	CentreFrequency Number // mean of the two frequencies 6 dB below the peak of the mean spectrum, Hz
	Bandwidth       Number // their difference as a share of CentreFrequency
	Rate            Number // true sample rate over the stated one, by the echo of a known wall
	RateError       Number // of Rate: the range in which the wall's echo is nearly as strong
	TimeZero        Number // time zero by the same echo, s, 0 where the stated one is right
	Separate        bool   // whether the capture holds both directions of all pairs, to tell transmitting from receiving

	Tones    []Tone    // steady interference, the most distinct first
	Elements []Element // one for each element of the array
	Pairs    []Pair    // one for each pair of the capture, in its order
	Findings []Finding // what exceeds the limits: by kind, then by element or pair
}

// Element is the health of one element.
type Element struct {
	Transmit, Receive Side   // the same where Report.Separate is false
	Coupling          Number // two-way level in the coupling gate against the neighbours, dB
	Initial           Number // level of the initial pulse in its own trace against the median element, dB
	Noise             Number // noise as a receiver against the median receiver, dB
	SNR               Number // median of the signal-to-noise ratio of its pairs, dB
	Offset            Number // median offset as a receiver, share of Report.EchoPeak
	CentreFrequency   Number // as in Report, from the echo in its own trace, Hz
	Bandwidth         Number // as in Report, from the echo in its own trace
	Step              Number // step of its numbers as a receiver, share of Report.EchoPeak
}

// Side is the health of an element as a transmitter or as a receiver.
type Side struct {
	Level    Number // sensitivity against the median element, dB
	Relative Number // sensitivity against its neighbours, dB
	Polarity Number // likeness of its traces to those of the others, -1 to 1: near -1 is reversed
	Drift    Number // error of its time zero against its neighbours, s, positive for late
	// DriftError is the standard error of Drift in s, by the scatter over partners and neighbours.
	// A drift is a finding if it exceeds its limit by two standard errors.
	DriftError Number
	Jitter     Number // scatter of its time zero from trace to trace, standard deviation, s
	// Order is how much better it fits in its place than in the place of a neighbour, as a share
	// of the likeness of elements nearby. Around 0 its place cannot be told.
	Order Number
	Lost  Number // share of its traces that are lost though the others are there
}

// Pair is the health of one trace.
type Pair struct {
	fmc.Pair
	Noise     Number // standard deviation in the noise gate, as the package's text has it, unit of the samples
	Offset    Number // median of the trace, unit of the samples
	Peak      Number // largest modulus in the echo gate, offset removed, unit of the samples
	SNR       Number // Peak over Noise, dB
	Saturated Number // share of the samples of the echo gate that are clipped
	Clipped   int    // clipped samples in the whole trace, the initial pulse included
	Spike     Number // largest modulus without a like in the traces around, share of Report.EchoPeak; 0 for none
	CrossTalk Number // amplitude before the fastest wave, noise removed, share of Report.EchoPeak
	// Reciprocity is the norm of the difference from the reciprocal trace about the
	// echo's peak over the root mean square of both norms, noise removed: 0 for equal
	// ones, 2 for opposite ones, not known where the echo does not stand out of the
	// noise.
	Reciprocity Number
}

// A Kind tells what a finding is about.
type Kind uint8

// The kinds of findings. The value and the limit of each are in the unit of its
// field in [Limits].
const (
	NoEcho         Kind = iota // no echo stands out to judge elements by; value and limit in deviations of the noise
	Dead                       // an end without an echo
	Weak                       // an end with a loss against its neighbours
	Uncoupled                  // loss of echoes though the element sounds or hears otherwise
	Reversed                   // polarity against the other elements; value is the likeness
	Drift                      // wrong time zero
	Noisy                      // noise of a receiver
	Offset                     // offset of a receiver
	Saturated                  // clipped echo of a pair
	CrossTalk                  // signal of a pair before any wave can arrive
	Reciprocity                // unlike traces of a pair in its two directions
	Spread                     // unlike elements
	LowSNR                     // weak echoes in the capture
	WrongFrequency             // centre frequency of the capture
	NarrowBand                 // bandwidth of the capture
	Interference               // a steady tone; value and limit are its level as a share of the median echo
	LostShots                  // traces that an end has lost, though its others are there
	Jitter                     // time zero of an end that scatters from trace to trace
	Spike                      // sample of a pair that nothing around explains
	Coarse                     // step of a receiver's numbers
	GainDrift                  // gain of a frame against the first frames, by Watch
	Lost                       // an element that a frame lost, dead or uncoupled, by Watch
	Recovered                  // an element or the gain as in the first frames again, by Watch
	Exchanged                  // two elements that are in each other's place
	WrongRate                  // sample rate against the echo of a known wall, or its speed or depth
	kinds
)

var kindNames = [kinds]string{
	"no echo", "dead", "weak", "uncoupled", "reversed", "drift of the time zero", "noisy", "offset", "saturated",
	"cross-talk", "reciprocity", "spread", "low signal-to-noise", "centre frequency", "narrow band", "interference",
	"lost shots", "jitter", "spike", "coarse steps", "gain drift", "lost", "recovered", "exchanged", "sample rate",
}

var kindUnits = [kinds]string{"sd", "dB", "dB", "dB", "", "periods", "dB", "", "", "", "", "dB", "dB", "", "", "", "", "periods", "", "", "dB", "dB", "dB", "", ""}

// String returns the kind in words: "dead", "cross-talk".
func (k Kind) String() string {
	if k < kinds {
		return kindNames[k]
	}
	return fmt.Sprintf("Kind(%d)", uint8(k))
}

// MarshalText returns the kind in words.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// UnmarshalText reads a kind in words.
func (k *Kind) UnmarshalText(b []byte) error {
	for i, name := range kindNames {
		if name == string(b) {
			*k = Kind(i)
			return nil
		}
	}
	return fmt.Errorf("health: kind of finding %q: want one of %q", b, kindNames)
}

// A Role tells which end of a pair a finding is about.
type Role uint8

// The roles.
const (
	Both     Role = iota // both ends, or the whole
	Transmit             // the element as a transmitter
	Receive              // the element as a receiver
)

var roleNames = []string{"both", "transmit", "receive"}

// String returns "both", "transmit" or "receive".
func (r Role) String() string {
	if int(r) < len(roleNames) {
		return roleNames[r]
	}
	return fmt.Sprintf("Role(%d)", uint8(r))
}

// MarshalText returns the role in words.
func (r Role) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// UnmarshalText reads a role in words.
func (r *Role) UnmarshalText(b []byte) error {
	for i, name := range roleNames {
		if name == string(b) {
			*r = Role(i)
			return nil
		}
	}
	return fmt.Errorf("health: role %q: want one of %q", b, roleNames)
}

// Finding is a verdict against a limit.
type Finding struct {
	Kind     Kind
	Role     Role
	Elements []int   `json:",omitempty"` // one element, or transmitter and receiver of a pair, or none for the whole capture
	Tone     Tone    `json:",omitzero"`  // of Interference
	Value    float64 // what was measured
	Limit    float64 // what it was judged against
}

// Healthy reports whether nothing exceeded its limit.
func (r *Report) Healthy() bool { return len(r.Findings) == 0 }

// Of returns the elements with a finding of the kind in any role, in ascending order.
// For kinds that concern pairs or the whole capture it is empty.
func (r *Report) Of(kind Kind) []int {
	var elements []int
	for _, f := range r.Findings {
		if f.Kind != kind || len(f.Elements) != 1 {
			continue
		}
		if n := len(elements); n == 0 || elements[n-1] != f.Elements[0] {
			elements = append(elements, f.Elements[0])
		}
	}
	return elements
}
