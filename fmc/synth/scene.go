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

// Scene is what an array looks at, and which of its echoes are wanted.
type Scene struct {
	Setup wedge.Setup
	Array fmc.Array
	// Normal is the direction straight ahead of the elements, Axis that along their
	// width, at right angles to it; of lengths from 1e-100 to 1e100. Zero vectors stand
	// for the line from the first element to the second (+x for a single one; one along
	// y needs an Axis) and for the normal to it and to y that points to the part.
	Normal, Axis r3.Vec
	// Length is that of an element across its width in m, finite; 0 for one small
	// against the wavelength. It has no effect in a Section.
	Length    float64
	Dimension wedge.Dimension // how waves spread
	Losses    Losses

	// Reflectors are seen in each of Views, and in its reciprocal: the trace from
	// i to j has both. There must be views if there are reflectors.
	Reflectors []Reflector
	Views      []wedge.View
	// Walls are the echoes of the part's own surfaces, each given by the modes of
	// its legs in the part: two legs are the echo of the back wall (LL, or LT
	// converted at the wall), four its repetition, and so on; always an even number.
	// Modes in reverse come along, as reciprocal views do.
	Walls [][]material.Mode
	// Front asks for the echo of the entry surface in the coupling, which there
	// must be.
	Front bool
}

// Losses are the laws by which waves lose amplitude; nil for none.
type Losses struct {
	Coupling                 material.Attenuation
	Longitudinal, Transverse material.Attenuation // in the part
}

// Recording is how the traces are sampled.
type Recording struct {
	Pairs       []fmc.Pair // at least one, distinct; nil stands for the full matrix
	Samples     int        // of each trace, 1 or above; with the pulse, at most 2^24
	SampleRate  float64    // in Hz, finite, at least 2·f·(1 + b) for the centre frequency f and the bandwidth b of the array
	FirstSample float64    // time of sample 0 in s, finite
	Workers     int        // goroutines that compute it, at most; 0 stands for all cores
}

// maxSlender bounds the length of an element in widths. Elements are 10 to 100 times as
// long as wide (common practice, no source), so a length in mm is beyond it.
const maxSlender = 1000

// Validate reports the first field of s that is missing or out of range, besides
// those of its reflectors.
func (s *Scene) Validate() error {
	if s == nil {
		return errors.New("synth: no scene, nil: want one")
	}
	if err := s.Setup.Validate(); err != nil {
		return fmt.Errorf("synth: set-up: %w", err)
	}
	if err := s.Array.Validate(); err != nil {
		return fmt.Errorf("synth: array: %w", err)
	}
	if limit := maxSlender * s.Array.Width; !(s.Length >= 0 && s.Length <= limit) {
		return fmt.Errorf("synth: length of the elements %v m: want 0 to %.6g m, %v times their width", s.Length, limit, maxSlender)
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
	if s.Dimension > wedge.Section {
		return fmt.Errorf("synth: dimension %d: want wedge.Space or wedge.Section", s.Dimension)
	}
	for _, law := range []struct {
		name string
		law  material.Attenuation
	}{
		{"the coupling", s.Losses.Coupling},
		{"longitudinal waves", s.Losses.Longitudinal},
		{"transverse waves", s.Losses.Transverse},
	} {
		if err := law.law.Validate(); err != nil {
			return fmt.Errorf("synth: losses of %s: %w", law.name, err)
		}
	}
	if len(s.Reflectors) > 0 && len(s.Views) == 0 {
		return fmt.Errorf("synth: %d reflectors and no views: want at least one view, such as L-L", len(s.Reflectors))
	}
	for i, r := range s.Reflectors {
		if r == nil {
			return fmt.Errorf("synth: reflector %d: want one, not nil", i)
		}
	}
	for i, modes := range s.Walls {
		if len(modes) == 0 || len(modes)%2 != 0 {
			return fmt.Errorf("synth: wall echo %d of %d legs: want an even number of legs, at least 2", i, len(modes))
		}
	}
	if s.Front && s.Setup.Coupling == nil {
		return fmt.Errorf("synth: front echo of an array in contact: want a coupling, or no front echo")
	}
	return nil
}

// frame returns the capture that r asks for, with all samples 0.
func (r Recording) frame(a fmc.Array) (*fmc.Capture, error) {
	pairs := r.Pairs
	if pairs == nil {
		pairs = fmc.FullPairs(len(a.Elements))
	}
	// The frequency up to which samples must be taken twice a period.
	if least := 2 * a.CentreFrequency * (1 + a.Bandwidth); !(r.SampleRate >= least) {
		return nil, fmt.Errorf("synth: sample rate %v Hz: want at least %.6g Hz for the band of the array", r.SampleRate, least)
	}
	if r.Samples < 1 || r.Samples > maxLength {
		return nil, fmt.Errorf("synth: %d samples: want 1 to %d", r.Samples, maxLength)
	}
	c, err := fmc.New(fmc.Capture{Array: a, Pairs: pairs, Samples: r.Samples, SampleRate: r.SampleRate, FirstSample: r.FirstSample})
	if err != nil {
		return nil, fmt.Errorf("synth: recording: %w", err)
	}
	return c, nil
}
