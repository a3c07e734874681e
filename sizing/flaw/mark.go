// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"context"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
)

// mark finds what explains indications: walls in their true place, known shapes, and ghosts of
// both.
func (l *lister) mark(ctx context.Context) error {
	var err error
	l.echoes, err = ghost.New(ctx, l.setup, l.capture.Array, &ghost.Options{Reflectors: l.options.Known, Workers: l.options.Workers})
	if err != nil {
		return fmt.Errorf("flaw: %w", err)
	}
	for _, v := range l.views {
		found, err := l.explain(ctx, l.echoes, v, v.sightings)
		if err != nil {
			return err
		}
		for i, s := range v.sightings {
			x := found[i]
			s.explained, s.agreement = x.Reflector+x.Echo, max(0, x.Agreement) // one of both at most
			s.wall, err = ghost.WallAt(ctx, l.setup, l.capture.Array, v.parsed, s.at(), s.Contour, v.step)
			if err != nil {
				return fmt.Errorf("flaw: view %s: %w", v.Name, err)
			}
			if s.wall != "" {
				s.explained = s.wall
			}
		}
	}
	return nil
}

// explain returns the explanations of sightings of a view.
func (l *lister) explain(ctx context.Context, echoes *ghost.Echoes, v *view, sightings []*sighting) ([]ghost.Explanation, error) {
	var places []r3.Vec
	for _, s := range sightings {
		places = append(places, s.at())
	}
	found, err := echoes.Explain(ctx, l.capture, v.parsed, places, l.options.Band)
	if err != nil {
		return nil, fmt.Errorf("flaw: view %s: %w", v.Name, err)
	}
	return found, nil
}

// trace finds the unknown indications that are ghosts of flaws, or a part of them.
func (l *lister) trace(ctx context.Context) error {
	var flaws []ghost.Reflector
	named := map[string]*entry{}
	for _, e := range l.entries {
		if e.kind == Planar || e.kind == Point {
			r := e.reflector()
			flaws = append(flaws, r)
			named[r.Name] = e
		}
	}
	if len(named) == 0 {
		return nil
	}
	echoes, err := l.echoes.With(ctx, flaws)
	if err != nil {
		return fmt.Errorf("flaw: %w", err)
	}
	for _, v := range l.views {
		open := slices.DeleteFunc(slices.Clone(v.sightings), func(s *sighting) bool {
			return s.entry.kind != Unknown || s.explained != "" || len(s.entry.sightings) > 1
		})
		found, err := l.explain(ctx, echoes, v, open)
		if err != nil {
			return err
		}
		for i, s := range open {
			switch x := found[i]; {
			case named[x.Reflector] != nil:
				s.entry.sightings = nil
				named[x.Reflector].take(s)
			case x.Echo != "":
				s.explained, s.agreement = x.Echo, x.Agreement
			}
		}
	}
	l.entries = slices.DeleteFunc(l.entries, func(e *entry) bool { return len(e.sightings) == 0 })
	return nil
}

// reflector returns an entry as a reflector whose echoes may be ghosts.
func (e *entry) reflector() ghost.Reflector {
	at := e.place()
	r := ghost.Reflector{
		Name:    fmt.Sprintf("%s flaw at x %.1f mm, z %.1f mm", e.kind, at.x*1e3, at.z*1e3),
		Outline: wedge.Outline{{X: at.x, Y: at.z}},
	}
	if e.planar != nil {
		a, b := e.planar.Ends[0].At, e.planar.Ends[1].At
		r.Outline = wedge.Outline{{X: a.X, Y: a.Z}, {X: b.X, Y: b.Z}}
	}
	return r
}
