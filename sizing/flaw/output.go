// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing/tips"
)

// list returns the finished entries, strongest first.
func (l *lister) list() ([]Flaw, error) {
	for _, e := range l.entries {
		slices.SortFunc(e.sightings, strongest)
	}
	slices.SortFunc(l.entries, func(a, b *entry) int { return strongest(a.sightings[0], b.sightings[0]) })
	out := make([]Flaw, 0, len(l.entries))
	for i, e := range l.entries {
		f, err := l.flaw(e)
		if err != nil {
			return nil, err
		}
		f.ID = i + 1
		if t := l.options.Acceptance; t != nil {
			outcome := t.Judge(f)
			f.Outcome = &outcome
		}
		out = append(out, f)
	}
	return out, nil
}

// flaw returns an entry in its outer form.
func (l *lister) flaw(e *entry) (Flaw, error) {
	top := e.sightings[0]
	at := e.place()
	f := Flaw{
		Kind: e.kind, Method: NoMethod, X: at.x, Z: at.z, Length: top.Length, LengthU: top.Length,
		LengthIs: tips.Unresolved, TiltU: math.Pi / 2, LevelDB: top.LevelDB, LevelU: l.options.LevelU,
		SNRDB: top.SNRDB, Complete: true, Explained: e.explained(), Reasons: e.reasons(),
	}
	if p := e.planar; p != nil {
		f.X, f.Z = p.Centre.X, p.Centre.Z
		f.Method, f.LengthIs, f.Length, f.Tilt = method(p.Method), p.LengthIs, p.Length, p.Tilt
		f.Ends = &[2][2]float64{{p.Ends[0].At.X, p.Ends[0].At.Z}, {p.Ends[1].At.X, p.Ends[1].At.Z}}
	} else if length, tilt, ok := top.Size(); ok && e.kind != Point && e.evidence == nil {
		f.Method, f.LengthIs, f.Length, f.Tilt = FromDrop, tips.LowerBound, length, tilt
		f.LengthU = dropU(top.Resolution.Length)
		f.TiltU = min(f.LengthU/length, math.Pi/2)
	}
	for _, name := range l.rank {
		for _, s := range e.sightings {
			if s.view.Name != name {
				continue
			}
			if !slices.Contains(f.Views, name) {
				f.Views = append(f.Views, name)
			}
			f.Indications = append(f.Indications, s.reference())
			f.Complete = f.Complete && s.Complete()
		}
	}
	f.spread(e)
	l.locate(&f, e)
	if err := l.budget(&f, e); err != nil {
		return f, err
	}
	if r := top.Resolution; f.LengthIs == tips.LowerBound && r != nil {
		f.LengthU = max(f.LengthU, r.Length) // a point shows this long
	}
	return f, nil
}

// reference returns a sighting in its outer form.
func (s *sighting) reference() Reference {
	return Reference{
		View: s.view.Name, ID: s.ID, X: s.X, Z: s.Z, LevelDB: s.LevelDB, SNRDB: s.SNRDB,
		Complete: s.Complete(), Explained: s.explained, Agreement: s.agreement,
	}
}

// place returns the mean of the places of all sightings of an entry, or the strongest place of an
// entry whose sightings are not the spots of one reflector.
func (e *entry) place() place {
	at := e.sightings[0].place()
	if e.kind == Geometry {
		return at
	}
	for _, s := range e.sightings[1:] {
		at = at.join(s.place())
	}
	return at
}

// explained returns what explains the strongest indication of an entry, if all of its indications
// are explained.
func (e *entry) explained() string {
	for _, s := range e.sightings {
		if s.explained == "" {
			return ""
		}
	}
	return e.sightings[0].explained
}

// locate sets where an entry lies in the part.
func (l *lister) locate(f *Flaw, e *entry) {
	top := e.sightings[0]
	f.ExtentX, f.ExtentZ = top.ExtentX, top.ExtentZ
	points := slices.Clone(top.Contour)
	if f.Ends != nil {
		a, b := f.Ends[0], f.Ends[1]
		f.ExtentX, f.ExtentZ = [2]float64{min(a[0], b[0]), max(a[0], b[0])}, [2]float64{a[1], b[1]}
		points = []r3.Vec{{X: a[0], Y: top.view.y, Z: a[1]}, {X: b[0], Y: top.view.y, Z: b[1]}}
	}
	centre := r3.Vec{X: f.X, Y: top.view.y, Z: f.Z}
	f.Depth = l.setup.Entry.Depth(centre)
	least, most, remaining := f.Depth, f.Depth, math.Inf(1)
	for _, p := range points {
		depth := l.setup.Entry.Depth(p)
		least, most = min(least, depth), max(most, depth)
		if l.setup.Back != nil {
			remaining = min(remaining, -l.setup.Back.Depth(p))
		}
	}
	f.Height = most - least
	f.Ligament = min(least, remaining) + 0 // a point on a surface has a ligament of 0, not -0
	if l.part != nil {
		f.Weld = l.part.Position(centre).Weld
	}
}
