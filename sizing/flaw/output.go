// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing/tips"
)

// list returns the finished entries, strongest first.
func (l *lister) list() []Flaw {
	for _, e := range l.entries {
		slices.SortFunc(e.sightings, strongest)
	}
	slices.SortFunc(l.entries, func(a, b *entry) int { return strongest(a.sightings[0], b.sightings[0]) })
	out := make([]Flaw, 0, len(l.entries))
	for i, e := range l.entries {
		f := l.flaw(e)
		f.ID = i + 1
		if t := l.options.Acceptance; t != nil {
			outcome := t.Judge(f)
			f.Outcome = &outcome
		}
		out = append(out, f)
	}
	return out
}

// coverage is the factor from a standard uncertainty to the half-width of an interval of 95 %, of a
// normal distribution.
const coverage = 1.96

// flaw returns an entry in its outer form.
func (l *lister) flaw(e *entry) Flaw {
	top := e.sightings[0]
	at := e.place()
	f := Flaw{
		Kind: e.kind, Method: NoMethod, X: at.x, Z: at.z, Length: top.Length, LengthU: top.Length,
		LengthIs: tips.Unresolved, TiltU: math.Pi / 2, LevelDB: top.LevelDB, SNRDB: top.SNRDB, Complete: true,
		Explained: e.explained(), Reasons: e.reasons(),
	}
	if p := e.planar; p != nil {
		f.X, f.Z = p.Centre.X, p.Centre.Z
		f.Method, f.LengthIs = method(p.Method), p.LengthIs
		f.Ends = &[2][2]float64{{p.Ends[0].At.X, p.Ends[0].At.Z}, {p.Ends[1].At.X, p.Ends[1].At.Z}}
		f.Length, f.LengthU = p.Length, coverage*p.LengthUncertainty
		f.Tilt, f.TiltU = p.Tilt, min(coverage*p.TiltUncertainty, math.Pi/2)
	} else if length, tilt, ok := top.Size(); ok && e.kind != Point {
		f.Method, f.LengthIs, f.Length, f.Tilt = FromDrop, tips.LowerBound, length, tilt
		f.LengthU = coverage * math.Sqrt2 * dropShare * top.Resolution.Length
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
	budget := l.options.Budget
	f.LengthU, f.PlaceU, f.LevelU = math.Hypot(f.LengthU, budget.Length), math.Hypot(e.placeU(), budget.Place), budget.LevelDB
	l.locate(&f, e)
	return f
}

// dropShare is the standard uncertainty of an end of a 6 dB length, as a share of the length of the
// point spread.
const dropShare = 0.1

// method returns the method of a planar flaw in the terms of this package.
func method(m tips.Method) Method {
	switch m {
	case tips.TwoTips:
		return FromTips
	case tips.TipAndWall:
		return FromTipAndWall
	default:
		return FromDrop
	}
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

// placeU returns the uncertainty of the centre or the ends in the direction in which it is largest.
func (e *entry) placeU() float64 {
	if e.planar != nil {
		return coverage * max(e.planar.Ends[0].Uncertainty, e.planar.Ends[1].Uncertainty)
	}
	return coverage * e.place().worst()
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
	f.Height, f.Ligament = most-least, min(least, remaining)
	if w := l.options.Weld; w != nil {
		f.Zone = w.Zone(r2.Vec{X: f.X, Y: f.Z}, l.options.HeatAffected).String()
	}
}
