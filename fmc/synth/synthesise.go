// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Synthesise returns the capture that the array of a scene takes. The capture has the same bits for
// any number of workers. The error names the field that is out of range, or is the error of ctx if
// ctx ends early.
func Synthesise(ctx context.Context, scene *Scene, recording Recording) (*fmc.Capture, error) {
	if err := scene.validate(); err != nil {
		return nil, err
	}
	c, err := recording.frame(scene.Array)
	if err != nil {
		return nil, err
	}
	t, err := newTraces(c, newPulse(scene.Array), trail/scene.Array.CentreFrequency)
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

// trail is the time for which reflectors ring after the pulse, in periods: the time of a wave that
// creeps round a hole of five wavelengths. TestWindow checks that it is long enough.
const trail = 24

// addReflectors adds the echoes of all reflectors.
func addReflectors(ctx context.Context, s *Scene, t *traces) error {
	around := Surroundings{
		Part: s.Setup.Part, Dimension: s.Dimension, Frequencies: slices.Clone(t.frequencies),
	}
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

// views holds the paths by which reflectors are seen.
type views struct {
	emitters []*emitter     // one for each path
	pairs    [][2]int       // transmit and receive emitter of each view, without repeats
	byModes  map[string]int // index of the emitter of a path, by its modes
}

// newViews returns the views of a scene and their reciprocal views.
func newViews(s *Scene, frequencies []float64) (*views, error) {
	v := &views{byModes: map[string]int{}}
	for _, view := range s.Views {
		out, err := v.emitter(s, view.Transmit, frequencies)
		if err != nil {
			return nil, err
		}
		back, err := v.emitter(s, view.Reciprocal().Transmit, frequencies)
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

// emitter returns the index of the emitter along the path of the given modes. It makes the emitter
// if there is none.
func (v *views) emitter(s *Scene, modes []material.Mode, frequencies []float64) (int, error) {
	name := fmt.Sprint(modes)
	if i, ok := v.byModes[name]; ok {
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
	v.byModes[name] = len(v.emitters)
	v.emitters = append(v.emitters, e)
	return v.byModes[name], nil
}

// add adds the echoes of a scatterer to all traces.
func (v *views) add(ctx context.Context, s *Scene, t *traces, scatterer Scatterer) error {
	return v.echoes(ctx, s, scatterer, echoes{
		pairs: t.capture.Pairs, frequencies: len(t.frequencies), spread: t.spread, covers: t.covers,
		visit: func(p, _ int, out, back *beam, spectrum []complex128) {
			t.add(p, spectrum, out.time+back.time)
		},
	})
}

// echoes says which echoes of a scatterer are wanted.
type echoes struct {
	pairs       []fmc.Pair
	frequencies int // number
	spread      parallel.Options
	covers      func(time float64) bool // echoes at other times, in s, are left out
	// visit is called for each echo: pair p, seen in a view, with both beams and its spectrum. Many
	// goroutines call visit at the same time, each for other pairs. The spectrum is valid during
	// the call.
	visit func(p, view int, out, back *beam, spectrum []complex128)
}

// echoes visits the echoes of a scatterer.
func (v *views) echoes(ctx context.Context, s *Scene, scatterer Scatterer, want echoes) error {
	centre, endless := scatterer.Centre()
	elements := s.Array.Elements
	if endless {
		centre.Y = elements[0].Y
	}
	if !s.Setup.Inside(centre) {
		return fmt.Errorf("synth: reflector at %v m: want it in the part", centre)
	}
	beams := make([]beam, len(v.emitters)*len(elements))
	err := parallel.Do(ctx, len(beams), want.spread, func() func(int) error {
		return func(i int) (err error) {
			beams[i], err = v.emitters[i/len(elements)].to(elements[i%len(elements)], centre)
			return err
		}
	})
	if err != nil {
		return err
	}
	return parallel.Do(ctx, len(want.pairs), want.spread, func() func(int) error {
		scattered := make([]complex128, want.frequencies)
		return func(p int) (err error) {
			pair := want.pairs[p]
			from, to := elements[pair.Tx], elements[pair.Rx]
			for i, view := range v.pairs {
				out := beams[view[0]*len(elements)+pair.Tx]
				back := beams[view[1]*len(elements)+pair.Rx]
				if !out.exists || !back.exists {
					continue
				}
				if endless && (from.Y != centre.Y || to.Y != centre.Y) {
					nearest := centre
					nearest.Y = between(s.Setup.Part, from.Y, out.arrival, to.Y, back.arrival)
					if out, err = v.emitters[view[0]].to(from, nearest); err != nil {
						return err
					}
					if back, err = v.emitters[view[1]].to(to, nearest); err != nil {
						return err
					}
				}
				if out.exists && back.exists && want.covers(out.time+back.time) {
					v.echo(s, scattered, scatterer, &out, &back)
					want.visit(p, i, &out, &back, scattered)
				}
			}
			return nil
		}
	})
}

// between returns the y of the point on a line along y that makes the path shortest: from an
// element at y1 to the line and back to an element at y2. It uses the radii of the wave fronts at
// the line. At a large slant the radii are not exact, but there the time is stationary: the error
// is of second order.
func between(part material.Isotropic, y1 float64, one Wave, y2 float64, two Wave) float64 {
	a := part.Speed(one.Mode) * one.Radius
	b := part.Speed(two.Mode) * two.Radius
	return (y1*b + y2*a) / (a + b)
}

// echo sets dst to the spectrum of the echo of a scatterer. The wave arrives by the beam out and
// returns along the beam back. Both beams are given from the array to the scatterer.
func (v *views) echo(s *Scene, dst []complex128, scatterer Scatterer, out, back *beam) {
	leaving := reversed(back.arrival)
	scatterer.Scatter(dst, out.arrival, leaving)
	weight := complex(s.reception(s.Setup.Part, leaving.Mode), 0)
	for k := range dst {
		dst[k] *= out.spectrum[k] * back.spectrum[k] * weight
	}
}

// reception returns the weight with which an element receives a mode in a medium. It is the signal
// of a source that makes a displacement of 1 at a distance of 1 m, if the path from the element to
// the source has the amplitude 1. By reciprocity, the weight is the force that makes such a wave.
// The force is proportional to ρ·c² in space and to ρ·c^1.5 in a section, with the density ρ and
// the wave speed c. The unit is the force for longitudinal waves in the medium of the elements.
func (s *Scene) reception(medium material.Isotropic, mode material.Mode) float64 {
	own := s.Setup.Part
	if s.Setup.Coupling != nil {
		own = *s.Setup.Coupling
	}
	speeds := medium.Speed(mode) / own.Longitudinal
	return medium.Density / own.Density * math.Pow(speeds, receptionExponent(s.Dimension))
}

// receptionExponent returns the power of the wave speed in the reception of a wave.
func receptionExponent(d wedge.Dimension) float64 {
	if d == wedge.Section {
		return 1.5
	}
	return 2
}
