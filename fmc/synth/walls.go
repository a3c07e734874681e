// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// addWalls adds the echoes of the part's surfaces.
func addWalls(ctx context.Context, s *Scene, t *traces) error {
	var done []string
	for _, modes := range s.Walls {
		reversed := slices.Clone(modes)
		slices.Reverse(reversed)
		for _, way := range [...][]material.Mode{modes, reversed} {
			if name := fmt.Sprint(way); !slices.Contains(done, name) {
				done = append(done, name)
				if err := addWall(ctx, s, t, way); err != nil {
					return err
				}
			}
		}
	}
	if s.Front {
		return addWall(ctx, s, t, nil)
	}
	return nil
}

// addWall adds the echo of the surfaces whose legs in the part have the given
// modes; no legs are the echo of the entry surface.
func addWall(ctx context.Context, s *Scene, t *traces, modes []material.Mode) error {
	there, err := s.wallEmitter(modes, t.frequencies)
	if err != nil {
		return err
	}
	reversed := slices.Clone(modes)
	slices.Reverse(reversed)
	back, err := s.wallEmitter(reversed, t.frequencies)
	if err != nil {
		return err
	}
	medium, mode := s.Setup.Part, material.L
	if s.Setup.Coupling != nil {
		medium = *s.Setup.Coupling
	} else {
		mode = modes[len(modes)-1]
	}
	weight := s.reception(medium, mode)
	elements := s.Array.Elements
	return parallel.Do(ctx, len(t.capture.Pairs), t.spread, func() func(int) error {
		return func(p int) error {
			pair := t.capture.Pairs[p]
			from, to := elements[pair.Tx], elements[pair.Rx]
			b, err := there.to(from, to)
			if err != nil {
				return err
			}
			r, err := back.to(to, from)
			if err != nil || !b.exists || !r.exists || !t.covers(b.time) {
				return err
			}
			// What the receiver has of a wave is its own directivity as a source of
			// the wave the other way; signs as for scattered waves.
			sign := complex(-weight*r3.Dot(b.arrival.Polarisation, r.departure), 0)
			for k := range b.spectrum {
				b.spectrum[k] *= r.directivity[k] * sign
			}
			t.add(p, b.spectrum, b.time)
			return nil
		}
	})
}

// wallEmitter returns the emitter along the path from an element to an element
// whose legs in the part have the given modes.
func (s *Scene) wallEmitter(modes []material.Mode, frequencies []float64) (*emitter, error) {
	setup := &s.Setup
	if len(modes) > 0 && setup.Back == nil {
		return nil, fmt.Errorf("synth: wall echo of a set-up without a back wall: want one")
	}
	var legs []wedge.Leg
	var crossings []wedge.Crossing
	var acoustics wedge.Acoustics
	leg := func(m material.Isotropic, mode material.Mode) {
		legs = append(legs, wedge.Leg{Speed: m.Speed(mode), Mode: mode})
		acoustics.Media = append(acoustics.Media, m)
	}
	cross := func(surface wedge.Surface, from wedge.Side, reflects bool, beyond *material.Isotropic) {
		crossings = append(crossings, wedge.Crossing{Surface: surface, From: from, Reflects: reflects})
		acoustics.Interfaces = append(acoustics.Interfaces, wedge.Interface{Contact: material.LiquidFilm, Beyond: beyond})
	}
	if setup.Coupling != nil {
		leg(*setup.Coupling, material.L)
		if len(modes) > 0 {
			cross(setup.Entry, wedge.Near, false, nil)
		} else {
			cross(setup.Entry, wedge.Near, true, &setup.Part)
		}
	}
	for i, mode := range modes {
		switch {
		case i%2 == 1:
			cross(setup.Back, wedge.Near, true, nil)
		case i > 0:
			cross(setup.Entry, wedge.Far, true, setup.Coupling)
		}
		if mode == material.T && setup.Part.Fluid() {
			return nil, fmt.Errorf("synth: wall echo %v in a fluid part, which carries no transverse wave", modes)
		}
		leg(setup.Part, mode)
	}
	if setup.Coupling != nil {
		if len(modes) > 0 {
			cross(setup.Entry, wedge.Far, false, nil)
		}
		leg(*setup.Coupling, material.L)
	}
	p, err := wedge.NewPath(legs, crossings)
	if err != nil {
		return nil, fmt.Errorf("synth: %w", err)
	}
	return newEmitter(s, p, acoustics, true, frequencies)
}
