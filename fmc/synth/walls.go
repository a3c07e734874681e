// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// addWalls adds the echoes of the surfaces of the part.
func addWalls(ctx context.Context, s *Scene, t *traces) error {
	var done []string
	for _, there := range s.Walls {
		for _, modes := range [...][]material.Mode{there, backwards(there)} {
			if name := fmt.Sprint(modes); !slices.Contains(done, name) {
				done = append(done, name)
				if err := addWall(ctx, s, t, modes); err != nil {
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

// backwards returns modes in reverse order.
func backwards(modes []material.Mode) []material.Mode {
	out := slices.Clone(modes)
	slices.Reverse(out)
	return out
}

// addWall adds one echo. Its legs in the part have the given modes. Without a leg in the part, it
// is the echo of the entry surface.
func addWall(ctx context.Context, s *Scene, t *traces, modes []material.Mode) error {
	there, err := s.wallEmitter(modes, t.frequencies)
	if err != nil {
		return err
	}
	back, err := s.wallEmitter(backwards(modes), t.frequencies)
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
			// By reciprocity the receiver has the directivity that it has as a source of the
			// opposite wave. The sign is the sign of scattered waves.
			sign := complex(-weight*r3.Dot(b.arrival.Polarisation, r.departure), 0)
			for k := range b.spectrum {
				b.spectrum[k] *= r.directivity[k] * sign
			}
			t.add(p, b.spectrum, b.time)
			return nil
		}
	})
}

// wallEmitter returns the emitter along the path from an element to an element whose legs in the
// part have the given modes.
func (s *Scene) wallEmitter(modes []material.Mode, frequencies []float64) (*emitter, error) {
	setup := &s.Setup
	if len(modes) > 0 && setup.Back == nil {
		return nil, errors.New("synth: wall echo of a set-up without a back wall: want one")
	}
	if slices.Contains(modes, material.T) && setup.Part.Fluid() {
		return nil, fmt.Errorf("synth: wall echo %v in a fluid part: want longitudinal waves only",
			modes)
	}
	var w wallPath
	switch {
	case len(modes) == 0:
		w.leg(*setup.Coupling, material.L)
		w.cross(setup.Entry, wedge.Near, true, &setup.Part)
		w.leg(*setup.Coupling, material.L)
	case setup.Coupling == nil:
		w.inPart(setup, modes)
	default:
		w.leg(*setup.Coupling, material.L)
		w.cross(setup.Entry, wedge.Near, false, nil)
		w.inPart(setup, modes)
		w.cross(setup.Entry, wedge.Far, false, nil)
		w.leg(*setup.Coupling, material.L)
	}
	p, err := wedge.NewPath(w.legs, w.crossings)
	if err != nil {
		return nil, fmt.Errorf("synth: %w", err)
	}
	return newEmitter(s, p, w.acoustics, true, frequencies)
}

// wallPath collects the legs and the crossings of a path, with their media.
type wallPath struct {
	legs      []wedge.Leg
	crossings []wedge.Crossing
	acoustics wedge.Acoustics
}

// leg appends a leg.
func (w *wallPath) leg(m material.Isotropic, mode material.Mode) {
	w.legs = append(w.legs, wedge.Leg{Speed: m.Speed(mode), Mode: mode})
	w.acoustics.Media = append(w.acoustics.Media, m)
}

// cross appends a crossing. A surface that reflects has the medium beyond on its other side.
func (w *wallPath) cross(s wedge.Surface, from wedge.Side, reflects bool, beyond *material.Isotropic) {
	w.crossings = append(w.crossings, wedge.Crossing{Surface: s, From: from, Reflects: reflects})
	w.acoustics.Interfaces = append(w.acoustics.Interfaces,
		wedge.Interface{Contact: material.LiquidFilm, Beyond: beyond})
}

// inPart appends the legs in the part, reflected by the back wall and the entry surface in turn.
func (w *wallPath) inPart(setup *wedge.Setup, modes []material.Mode) {
	for i, mode := range modes {
		switch {
		case i%2 == 1:
			w.cross(setup.Back, wedge.Near, true, nil)
		case i > 0:
			w.cross(setup.Entry, wedge.Far, true, setup.Coupling)
		}
		w.leg(setup.Part, mode)
	}
}
