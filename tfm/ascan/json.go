// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"encoding/json"
	"fmt"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
)

// kept is a [Trace] as JSON. The names hold the units.
type kept struct {
	Transmitter *int      `json:"transmitter,omitempty"`
	Receiver    *int      `json:"receiver,omitempty"`
	Mode        string    `json:"mode,omitempty"`
	Beam        *Beam     `json:"beam,omitempty"`
	Line        *Line     `json:"line,omitempty"`
	Low         float64   `json:"band_low_hz"`
	High        float64   `json:"band_high_hz"`
	SampleRate  float64   `json:"sample_rate_hz"`
	FirstSample float64   `json:"first_sample_s"`
	Partial     [][2]int  `json:"partial_samples,omitempty"`
	Clipped     [][2]int  `json:"clipped_samples,omitempty"`
	Real        []float32 `json:"real"`
	Imaginary   []float32 `json:"imaginary"`
}

// MarshalJSON returns t as a JSON object that [Trace.UnmarshalJSON] reads back bit for bit: the
// samples, the time axis, and the pair or the beam with all its parameters. The names of numbers
// end with their units. Lengths are in m, and points are objects with X, Y and Z.
func (t *Trace) MarshalJSON() ([]byte, error) {
	if err := t.validate(); err != nil {
		return nil, err
	}
	k := kept{
		Beam: t.Beam, Line: t.Line, Low: t.Band.Low, High: t.Band.High,
		SampleRate: t.SampleRate, FirstSample: t.FirstSample, Partial: t.Partial, Clipped: t.Clipped,
		Real: make([]float32, len(t.Analytic)), Imaginary: make([]float32, len(t.Analytic)),
	}
	if t.Pair != nil {
		k.Transmitter, k.Receiver = &t.Pair.Tx, &t.Pair.Rx
	}
	if t.Beam != nil {
		k.Mode = t.Beam.Mode.String()
	}
	for i, v := range t.Analytic {
		k.Real[i], k.Imaginary[i] = real(v), imag(v)
	}
	return json.Marshal(k)
}

// UnmarshalJSON reads a trace that [Trace.MarshalJSON] wrote. After an error t is unchanged.
func (t *Trace) UnmarshalJSON(data []byte) error {
	var k kept
	if err := json.Unmarshal(data, &k); err != nil {
		return fmt.Errorf("ascan: trace: %w", err)
	}
	if len(k.Real) != len(k.Imaginary) {
		return fmt.Errorf("ascan: trace of %d real and %d imaginary samples: want equal numbers", len(k.Real), len(k.Imaginary))
	}
	read := Trace{
		Beam: k.Beam, Line: k.Line, Band: tfm.Band{Low: k.Low, High: k.High},
		SampleRate: k.SampleRate, FirstSample: k.FirstSample, Partial: k.Partial, Clipped: k.Clipped,
		Analytic: make([]complex64, len(k.Real)),
	}
	if k.Transmitter != nil && k.Receiver != nil {
		read.Pair = &fmc.Pair{Tx: *k.Transmitter, Rx: *k.Receiver}
	}
	if k.Beam != nil {
		switch k.Mode {
		case material.L.String():
			k.Beam.Mode = material.L
		case material.T.String():
			k.Beam.Mode = material.T
		default:
			return fmt.Errorf("ascan: mode %q of the beam: want %v or %v", k.Mode, material.L, material.T)
		}
	}
	for i := range read.Analytic {
		read.Analytic[i] = complex(k.Real[i], k.Imaginary[i])
	}
	if err := read.validate(); err != nil {
		return err
	}
	*t = read
	return nil
}
