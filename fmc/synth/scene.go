// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"errors"
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Scene describes an array, the part in front of it, and the wanted echoes.
type Scene struct {
	Setup wedge.Setup
	Array fmc.Array
	// Axis is the direction along the width of the elements, of a length from 1e-100 to 1e100. A
	// zero vector stands for the direction from the first element to the second, or +x for a
	// single element. An array along y needs an Axis.
	//
	// Normal is the direction straight ahead of the elements, at right angles to Axis, of a length
	// from 1e-100 to 1e100. A zero vector stands for the direction at right angles to Axis and to
	// y that points to the part.
	Normal, Axis r3.Vec
	// Length is the size of an element at right angles to its width, in m: 0 to 1000 widths. The
	// value 0 stands for an element that is small compared with the wavelength. Length has no
	// effect in a Section.
	Length    float64
	Dimension wedge.Dimension // how waves spread
	Losses    Losses

	// Reflectors are seen in each of Views, and in its reciprocal view: the trace from i to j
	// contains both. If there are reflectors, there must be views.
	Reflectors []Reflector
	Views      []wedge.View
	// Walls are the echoes of the surfaces of the part. Each is given by the modes of its legs in
	// the part, an even number. Two legs are the echo of the back wall: LL, or LT with a conversion
	// at the wall. Four legs are its first repetition, and so on. Synthesise adds the echo with
	// the modes in reverse order, as it adds reciprocal views.
	Walls [][]material.Mode
	// Front adds the echo of the entry surface in the coupling. The set-up must have a coupling.
	Front bool
}

// Losses are the laws by which waves lose amplitude. A nil law stands for no loss.
type Losses struct {
	Coupling                 material.Attenuation
	Longitudinal, Transverse material.Attenuation // in the part
}

// Recording says how the traces are sampled.
type Recording struct {
	Pairs   []fmc.Pair // at least one, distinct; nil stands for the full matrix
	Samples int        // of each trace, 1 or above; with the pulse, at most 2^24
	// SampleRate is in Hz, finite, at least 2·f·(1 + b) for the centre frequency f and the
	// bandwidth b of the array.
	SampleRate  float64
	FirstSample float64 // time of sample 0 in s, finite
	Workers     int     // largest number of goroutines; 0 stands for all cores
}

// maxSlender is the largest length of an element in widths. Elements are 10 to 100 times as long as
// wide (common practice, no source). So a length in mm exceeds the limit.
const maxSlender = 1000

// validate reports the first field of s that is missing or out of range. Reflectors check their own
// fields later.
func (s *Scene) validate() error {
	if s == nil {
		return errors.New("synth: no scene, nil: want one")
	}
	if err := s.Setup.Validate(); err != nil {
		return fmt.Errorf("synth: set-up: %w", err)
	}
	if err := s.validateElements(); err != nil {
		return err
	}
	if s.Dimension > wedge.Section {
		return fmt.Errorf("synth: dimension %d: want wedge.Space or wedge.Section", s.Dimension)
	}
	if err := s.Losses.validate(); err != nil {
		return err
	}
	return s.validateEchoes()
}

// validateElements checks the array and its orientation.
func (s *Scene) validateElements() error {
	if err := s.Array.Validate(); err != nil {
		return fmt.Errorf("synth: array: %w", err)
	}
	if limit := maxSlender * s.Array.Width; !(s.Length >= 0 && s.Length <= limit) {
		return fmt.Errorf("synth: length of the elements %v m: want 0 to %.6g m, %v times their width",
			s.Length, limit, maxSlender)
	}
	for _, direction := range []struct {
		name string
		v    r3.Vec
	}{{"normal of the elements", s.Normal}, {"axis of the elements", s.Axis}} {
		if direction.v != (r3.Vec{}) {
			if err := checkDirection(direction.name, direction.v); err != nil {
				return err
			}
		}
	}
	return nil
}

// validate reports the first law that is out of range.
func (l Losses) validate() error {
	for _, law := range []struct {
		name string
		law  material.Attenuation
	}{
		{"the coupling", l.Coupling},
		{"longitudinal waves", l.Longitudinal},
		{"transverse waves", l.Transverse},
	} {
		if err := law.law.Validate(); err != nil {
			return fmt.Errorf("synth: losses of %s: %w", law.name, err)
		}
	}
	return nil
}

// validateEchoes checks which echoes are wanted.
func (s *Scene) validateEchoes() error {
	if n := len(s.Reflectors); n > 0 && len(s.Views) == 0 {
		return fmt.Errorf("synth: %d reflectors and no views: want at least one view, such as L-L",
			n)
	}
	for i, r := range s.Reflectors {
		if r == nil {
			return fmt.Errorf("synth: reflector %d: want one, not nil", i)
		}
	}
	for i, modes := range s.Walls {
		if len(modes) == 0 || len(modes)%2 != 0 {
			return fmt.Errorf("synth: wall echo %d of %d legs: want an even number of legs, at least 2",
				i, len(modes))
		}
	}
	if s.Front && s.Setup.Coupling == nil {
		return errors.New("synth: front echo of an array in contact: want a coupling, or no front echo")
	}
	return nil
}

// frame returns a capture as r describes it, with all samples 0.
func (r Recording) frame(a fmc.Array) (*fmc.Capture, error) {
	pairs := r.Pairs
	if pairs == nil {
		pairs = fmc.FullPairs(len(a.Elements))
	}
	// The band of the array ends at f·(1 + b). Its waves need two samples a period.
	if least := 2 * a.CentreFrequency * (1 + a.Bandwidth); !(r.SampleRate >= least) {
		return nil, fmt.Errorf("synth: sample rate %v Hz: want at least %.6g Hz for the band of the array",
			r.SampleRate, least)
	}
	if r.Samples < 1 || r.Samples > maxLength {
		return nil, fmt.Errorf("synth: %d samples: want 1 to %d", r.Samples, maxLength)
	}
	c, err := fmc.New(fmc.Capture{
		Array: a, Pairs: pairs,
		Samples: r.Samples, SampleRate: r.SampleRate, FirstSample: r.FirstSample,
	})
	if err != nil {
		return nil, fmt.Errorf("synth: recording: %w", err)
	}
	return c, nil
}
