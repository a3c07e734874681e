// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// List returns the entries that the indications of views of one capture show, strongest first.
//
// The capture is of single elements, on a linear array in a section of constant y. The set-up is
// the set-up of the pictures. Each indication belongs to exactly one entry. The numbers of the
// entries do not depend on the order of the views. A lower floor adds entries behind the others,
// unless it shows the second tip of a flaw.
//
// The error names the argument that is missing or out of range, or is the error of ctx if ctx ends
// early. The result has the same bits for any number of workers. Calls may run at the same time.
func List(ctx context.Context, c *fmc.Capture, setup *wedge.Setup, views []View, options *Options) ([]Flaw, error) {
	o, err := options.withDefaults()
	if err != nil {
		return nil, err
	}
	if c == nil {
		return nil, errors.New("flaw: no capture, nil: want one")
	}
	if setup == nil {
		return nil, errors.New("flaw: no set-up, nil: want one")
	}
	l := &lister{capture: c, setup: setup, options: o}
	if err := l.weld(); err != nil {
		return nil, err
	}
	if err := l.look(views); err != nil {
		return nil, err
	}
	for _, step := range []func(context.Context) error{l.mark, l.examine, l.trace} {
		if err := step(ctx); err != nil {
			return nil, err
		}
	}
	return l.list()
}

// lister makes the list.
type lister struct {
	capture *fmc.Capture
	setup   *wedge.Setup
	options *Options
	part    *sizing.Part // nil without a weld
	views   []*view      // in the order of their names
	rank    []string     // names in the order of the caller
	entries []*entry
	echoes  *ghost.Echoes // of the set-up and of the known reflectors
}

// entry is a flaw that is being put together.
type entry struct {
	kind      Kind
	sightings []*sighting
	planar    *tips.Flaw // with two ends; nil if there is none
	evidence  []tips.Evidence
}

// add makes an entry of sightings.
func (l *lister) add(kind Kind, sightings ...*sighting) *entry {
	e := &entry{kind: kind}
	for _, s := range sightings {
		e.take(s)
	}
	l.entries = append(l.entries, e)
	return e
}

// take adds a sighting to an entry.
func (e *entry) take(s *sighting) {
	s.entry = e
	e.sightings = append(e.sightings, s)
}

// view is a view with its sightings.
type view struct {
	View
	parsed    wedge.View
	step      float64 // of the grid, m
	y         float64
	length    float64 // wavelength in the picture, m
	sightings []*sighting
	model     *uncertainty.Model // nil before it is needed
}

// sighting is an indication of a view with what is known of it.
type sighting struct {
	sizing.Indication
	view      *view
	entry     *entry     // to which it belongs; nil before it is known
	hole      *tips.Spot // nil if it was not compared with a hole
	wall      string     // that it shows in its true place; empty for none
	explained string     // by which echo or known shape; empty for none
	agreement float64
}

// weld sets the part with its weld.
func (l *lister) weld() error {
	if l.options.Weld == nil {
		return nil
	}
	wall, err := sizing.NewWall(l.setup.Entry, l.setup.Back)
	if err != nil {
		return fmt.Errorf("flaw: part with a weld: %w", err)
	}
	l.part = &sizing.Part{Wall: wall, Weld: l.options.Weld, HeatAffected: l.options.HeatAffected}
	return nil
}

// look reads the views.
func (l *lister) look(views []View) error {
	if len(views) == 0 {
		return errors.New("flaw: no views: want at least 1")
	}
	for _, given := range views {
		parsed, err := wedge.ParseView(given.Name)
		if err != nil {
			return fmt.Errorf("flaw: %w", err)
		}
		if given.Image == nil {
			return fmt.Errorf("flaw: view %s without an image: want one", given.Name)
		}
		if slices.Contains(l.rank, given.Name) {
			return fmt.Errorf("flaw: view %s is given twice: want each view once", given.Name)
		}
		last := parsed.Receive[0]
		v := &view{
			View: given, parsed: parsed, step: max(given.Image.Step.X, given.Image.Step.Z),
			y: given.Image.Origin.Y, length: l.setup.Part.Speed(last) / l.capture.Array.CentreFrequency,
		}
		found := given.Indications
		if found == nil {
			if found, err = l.find(given); err != nil {
				return err
			}
		}
		if err := checkFound(given, found); err != nil {
			return err
		}
		for _, in := range found {
			v.sightings = append(v.sightings, &sighting{Indication: in, view: v})
		}
		l.rank = append(l.rank, given.Name)
		l.views = append(l.views, v)
	}
	slices.SortFunc(l.views, func(a, b *view) int { return cmp.Compare(a.Name, b.Name) })
	return nil
}

// checkFound reports the first indication that cannot be of the image of its view.
func checkFound(v View, found []sizing.Indication) error {
	g := v.Image.Grid
	first := g.Point(0)
	last := g.Point(g.Len() - 1)
	for i, in := range found {
		if in.ID < 1 {
			return fmt.Errorf("flaw: view %s: indication %d has the ID %d: want at least 1", v.Name, i, in.ID)
		}
		// A peak may lie within half a step beyond the outermost pixels.
		if !(in.X >= first.X-g.Step.X && in.X <= last.X+g.Step.X && in.Z >= first.Z-g.Step.Z && in.Z <= last.Z+g.Step.Z) {
			return fmt.Errorf("flaw: view %s: indication %d at x = %v m, z = %v m: want a place in the image, x from %v to %v m, z from %v to %v m",
				v.Name, in.ID, in.X, in.Z, first.X, last.X, first.Z, last.Z)
		}
	}
	return nil
}

// find returns the indications of a view.
func (l *lister) find(v View) ([]sizing.Indication, error) {
	spread, err := quality.NewSpread(l.capture, l.setup, v.Name, &quality.Options{
		Band: l.options.Band, Dimension: l.options.Dimension,
	})
	if err != nil {
		return nil, fmt.Errorf("flaw: %w", err)
	}
	found, err := sizing.Find(v.Image.Envelope(nil), &sizing.Options{Floor: l.options.Floor, Spread: spread.Picture})
	if err != nil {
		return nil, fmt.Errorf("flaw: view %s: %w", v.Name, err)
	}
	return found, nil
}

// at returns the place of the peak.
func (s *sighting) at() r3.Vec { return r3.Vec{X: s.X, Y: s.view.y, Z: s.Z} }

// by returns the sighting of an indication of a view, or nil.
func (l *lister) by(name string, id int) *sighting {
	for _, v := range l.views {
		if v.Name != name {
			continue
		}
		for _, s := range v.sightings {
			if s.ID == id {
				return s
			}
		}
	}
	return nil
}

// pictures returns the views as package tips takes them.
func (l *lister) pictures() (out []tips.View) {
	for _, v := range l.views {
		out = append(out, tips.View{Name: v.Name, Image: v.Image})
	}
	return out
}

// tipsOptions returns the options of package tips.
func (l *lister) tipsOptions() *tips.Options {
	return &tips.Options{
		Dimension: l.options.Dimension, Floor: min(l.options.Floor, defaultFloor), MaxLength: l.options.MaxLength, Band: l.options.Band,
		Workers: l.options.Workers,
	}
}
