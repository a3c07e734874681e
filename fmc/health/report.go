// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"encoding/json"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
)

// Number is a measured value. NaN stands for a value that is not known. In JSON, NaN is null.
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
	// TimeZero is the time zero by the same echo in s, at the middle of the envelope of the
	// transmitted pulse; 0 where the stated time zero is right. If Rate agrees with 1 within
	// RateError, TimeZero is measured at the stated rate, and otherwise at Rate. A wrong sample
	// rate, speed or depth that Rate does not show moves TimeZero by its share of the times.
	TimeZero Number
	// TimeZeroError is the half-width in s of the range around TimeZero that holds the true time
	// zero with a probability of at least 95 %, if the wall's times are right, and if the stated rate
	// is right where it is used. If Rate does not agree with 1, most of the range comes from
	// RateError: correct the rate, and assess again. TimeZeroError is not known if
	// fewer than two of eight blocks of the pairs have the echo.
	TimeZeroError Number
	Separate      bool // whether the capture holds both directions of all pairs

	Tones    []Tone    // steady interference, the most distinct first
	Elements []Element // one for each element of the array
	Traces   []Trace   // one for each pair of the capture, in its order
	Findings []Finding // values beyond the limits: by kind, then by element or pair
}

// Element is the health of one element.
type Element struct {
	Transmit, Receive Channel // the same where Report.Separate is false
	Coupling          Number  // two-way level in the coupling gate against the neighbours, dB
	Initial           Number  // level of the initial pulse in its own trace against the median element, dB
	Noise             Number  // noise as a receiver against the median receiver, dB
	SNR               Number  // median of the signal-to-noise ratio of its pairs, dB
	Offset            Number  // median offset as a receiver, share of Report.EchoPeak
	CentreFrequency   Number  // as in Report, from the echo in its own trace, Hz
	Bandwidth         Number  // as in Report, from the echo in its own trace
	Step              Number  // step of its numbers as a receiver, share of Report.EchoPeak
}

// Channel is the health of an element as a transmitter or as a receiver.
type Channel struct {
	Level    Number // sensitivity against the median element, dB
	Relative Number // sensitivity against its neighbours, dB
	Polarity Number // likeness of its traces to the others' traces, -1 to 1: near -1 is reversed
	Drift    Number // error of its time zero against its neighbours, s, positive for late
	// DriftError is the standard error of Drift in s, by the scatter over partners and neighbours.
	// A drift is a finding if it exceeds its limit by two standard errors.
	DriftError Number
	Jitter     Number // scatter of its time zero from trace to trace, standard deviation, s
	// Order is how much better the element fits in its place than in the place of a neighbour, as a
	// share of the correlation of elements nearby. It is below 0 for exchanged elements, and not
	// known where the traces do not prove the place.
	Order Number
	Lost  Number // share of its traces that are lost though the others are there
}

// Trace is the health of one trace.
type Trace struct {
	fmc.Pair
	Noise     Number // standard deviation in the noise gate, unit of the samples
	Offset    Number // median of the trace, unit of the samples
	Peak      Number // largest modulus in the echo gate, offset removed, unit of the samples
	SNR       Number // Peak over Noise, dB
	Saturated Number // share of the samples of the echo gate that are clipped
	Clipped   int    // clipped samples in the whole trace, the initial pulse included
	Spike     Number // largest spike, share of Report.EchoPeak; 0 for none
	CrossTalk Number // amplitude before the fastest wave, noise removed, share of Report.EchoPeak
	// Reciprocity is the norm of the difference from the reciprocal trace about the peak of the
	// echo, over the root mean square of both norms, noise removed. Equal traces have 0, opposite
	// traces 2. It is not known where the echo does not stand out of the noise.
	Reciprocity Number
}
