// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Synthesise returns the capture that the array of a scene takes. It is the same, bit for bit, for any number of cores. The error names the field
// at fault, or is that of ctx when it ends early.
func Synthesise(ctx context.Context, scene *Scene, recording Recording) (*fmc.Capture, error) {
	if err := scene.Validate(); err != nil {
		return nil, err
	}
	c, err := recording.frame(scene.Array)
	if err != nil {
		return nil, err
	}
	t, err := newTraces(c, PulseOf(scene.Array), trail/scene.Array.CentreFrequency)
	if err != nil {
		return nil, err
	}
	t.spread.Workers = recording.Workers
	if err := addWalls(ctx, scene, t); err != nil {
		return nil, err
	}
	if err := addReflectors(ctx, scene, t); err != nil {
		return nil, err
	}
	if err := t.samples(ctx); err != nil {
		return nil, err
	}
	return c, nil
}

// trail is how long reflectors ring on, in periods: a wave that creeps round a
// hole of five wavelengths needs as long. TestWindow guards it.
const trail = 24

// addReflectors adds the echoes of all reflectors.
func addReflectors(ctx context.Context, s *Scene, t *traces) error {
	around := Surroundings{Part: s.Setup.Part, Dimension: s.Dimension, Frequencies: slices.Clone(t.frequencies)}
	views, err := newViews(s, t.frequencies)
	if err != nil {
		return err
	}
	for i, r := range s.Reflectors {
		scatterers, err := r.Scatterers(around)
		if err != nil {
			return fmt.Errorf("%w, of reflector %d", err, i)
		}
		for _, scatterer := range scatterers {
			if err := views.add(ctx, s, t, scatterer); err != nil {
				return err
			}
		}
	}
	return nil
}

// views are the ways by which reflectors are seen.
type views struct {
	emitters []*emitter
	pairs    [][2]int // the emitters there and back, each once
}

func newViews(s *Scene, frequencies []float64) (*views, error) {
	v := &views{}
	byModes := map[string]int{}
	emitterOf := func(modes []material.Mode) (int, error) {
		name := fmt.Sprint(modes)
		if i, ok := byModes[name]; ok {
			return i, nil
		}
		p, err := s.Setup.Path(modes)
		if err != nil {
			return 0, fmt.Errorf("synth: %w", err)
		}
		e, err := newEmitter(s, p, s.Setup.Acoustics(p), false, frequencies)
		if err != nil {
			return 0, err
		}
		byModes[name] = len(v.emitters)
		v.emitters = append(v.emitters, e)
		return byModes[name], nil
	}
	for _, view := range s.Views {
		out, err := emitterOf(view.Transmit)
		if err != nil {
			return nil, err
		}
		back, err := emitterOf(view.Reciprocal().Transmit)
		if err != nil {
			return nil, err
		}
		for _, pair := range [...][2]int{{out, back}, {back, out}} {
			if !slices.Contains(v.pairs, pair) {
				v.pairs = append(v.pairs, pair)
			}
		}
	}
	return v, nil
}

// add adds the echoes of a scatterer.
func (v *views) add(ctx context.Context, s *Scene, t *traces, scatterer Scatterer) error {
	centre, endless := scatterer.Centre()
	elements := s.Array.Elements
	if endless {
		centre.Y = elements[0].Y
	}
	if !s.Setup.Inside(centre) {
		return fmt.Errorf("synth: reflector at %v m: want it in the part", centre)
	}
	beams := make([]beam, len(v.emitters)*len(elements))
	err := parallel.Do(ctx, len(beams), t.spread, func() func(int) error {
		return func(i int) (err error) {
			way := i / len(elements)
			beams[i], err = v.emitters[way].to(elements[i%len(elements)], centre)
			return err
		}
	})
	if err != nil {
		return err
	}
	return parallel.Do(ctx, len(t.capture.Pairs), t.spread, func() func(int) error {
		scattered := make([]complex128, len(t.frequencies))
		return func(p int) (err error) {
			pair := t.capture.Pairs[p]
			from, to := elements[pair.Tx], elements[pair.Rx]
			for _, ways := range v.pairs {
				out, back := beams[ways[0]*len(elements)+pair.Tx], beams[ways[1]*len(elements)+pair.Rx]
				if endless && (from.Y != centre.Y || to.Y != centre.Y) && out.exists && back.exists {
					nearest := centre
					nearest.Y = between(s.Setup.Part, from.Y, out.arrival, to.Y, back.arrival)
					if out, err = v.emitters[ways[0]].to(from, nearest); err != nil {
						return err
					}
					if back, err = v.emitters[ways[1]].to(to, nearest); err != nil {
						return err
					}
				}
				if time := out.time + back.time; out.exists && back.exists && t.covers(time) {
					v.echo(s, scattered, scatterer, &out, &back)
					t.add(p, scattered, time)
				}
			}
			return nil
		}
	})
}

// between returns the y at which the way from an element of one y to a line along
// y and back to an element of another is shortest, for the curvature of the wave
// fronts at the line. Their mismatch at a large slant does not matter to first
// order, since the time is stationary there.
func between(part material.Isotropic, y1 float64, one Wave, y2 float64, two Wave) float64 {
	a := part.Speed(one.Mode) * one.Radius
	b := part.Speed(two.Mode) * two.Radius
	return (y1*b + y2*a) / (a + b)
}

// echo sets dst to the spectrum of the echo of a scatterer to a beam out that
// comes back the way of another, which is given from the array to the scatterer.
func (v *views) echo(s *Scene, dst []complex128, scatterer Scatterer, out, back *beam) {
	leaving := back.arrival
	leaving.Direction = r3.Scale(-1, leaving.Direction)
	leaving.Polarisation = r3.Scale(-1, leaving.Polarisation)
	scatterer.Scatter(dst, out.arrival, leaving)
	weight := complex(s.reception(s.Setup.Part, leaving.Mode), 0)
	for k := range dst {
		dst[k] *= out.spectrum[k] * back.spectrum[k] * weight
	}
}

// reception returns what an element receives of a wave from a source that makes
// a displacement of 1 at a distance of 1 m, for a path of amplitude 1 from the
// element to that source. By reciprocity it is the force that makes such a wave,
// which goes with ρ·c² in space and with ρ·c^1.5 in a section, in units of that
// for longitudinal waves in the medium of the elements.
func (s *Scene) reception(medium material.Isotropic, mode material.Mode) float64 {
	own := s.Setup.Part
	if s.Setup.Coupling != nil {
		own = *s.Setup.Coupling
	}
	return medium.Density / own.Density * math.Pow(medium.Speed(mode)/own.Longitudinal, receptionExponent(s.Dimension))
}

func receptionExponent(d wedge.Dimension) float64 {
	if d == wedge.Section {
		return 1.5
	}
	return 2
}
