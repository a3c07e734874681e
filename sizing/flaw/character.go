// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"cmp"
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing/tips"
)

// Limits of the kinds. They were chosen on block16, sdh32, weld32 and tips_plate1, and on synthetic
// captures of even seeds.
const (
	minPoint     = 0.55 // fit of a hole, seen in one view
	minPointBoth = 0.45 // the same, if another view shows the reflector too
	minBeside    = 0.85 // the same, beside or behind a stronger reflector
	clearlyTip   = 0.05 // least fit of a tip above the fit of a hole, so that the tip is no hole
	sameHole     = 3.0  // largest difference of the strengths of one hole in two views, dB

	besideDrop  = 6.0                // dB
	besideReach = 3.5                // wavelengths, in all directions
	behindReach = 8.0                // wavelengths, along the beam
	behindAngle = 15 * math.Pi / 180 // from the direction of the beam
	creepReach  = 3.7                // wavelengths: round a hole with a radius of 1.4 wavelengths
	creepDrop   = 3.0                // dB
	againDrop   = 15.0               // dB, beyond
)

// examine makes the entries: planar flaws first, then walls, then what is left.
func (l *lister) examine(ctx context.Context) error {
	flaws, spots, err := tips.Examine(ctx, l.capture, l.setup, l.pictures(), l.tipsOptions())
	if err != nil {
		return err
	}
	for i := range spots {
		if s := l.by(spots[i].View, spots[i].Indication); s != nil {
			s.hole = &spots[i]
		}
	}
	for i := range flaws {
		l.planar(&flaws[i])
	}
	l.absorb()
	l.geometry()
	var rest []*sighting
	for _, v := range l.views {
		for _, s := range v.sightings {
			if s.entry == nil {
				rest = append(rest, s)
			}
		}
	}
	for _, g := range group(rest) {
		e := l.add(Unknown, g...)
		e.judge()
	}
	l.late()
	return nil
}

// contradicted reports whether a tip above the wall is a hole or a late wave. Most echoes of tips
// differ in strength from view to view. A hole explains the spots of two views with one strength.
// A hole has no face, so a face from the wall up to the tip outweighs the strengths. So does a tip
// that explains the signals clearly better than a hole.
func (l *lister) contradicted(f *tips.Flaw) bool {
	if f.Method != tips.TipAndWall && f.Method != tips.OneTip || l.faced(f) {
		return false
	}
	for _, e := range f.Evidence {
		s := l.by(e.View, e.Indications[0])
		hole := e.Fit < e.HoleFit+clearlyTip
		if s != nil && (s.trails() || hole && slices.ContainsFunc(l.views, s.sameHole)) {
			return true
		}
	}
	return false
}

// faced reports whether the face of a flaw on the wall shows up to its tip. One indication then
// shows both ends, and its contour passes the tip within half a wavelength.
func (l *lister) faced(f *tips.Flaw) bool {
	for _, e := range f.Evidence {
		s := l.by(e.View, e.Indications[0])
		if e.Indications[0] == e.Indications[1] && s != nil && slices.ContainsFunc(s.Contour, func(p r3.Vec) bool {
			return math.Hypot(p.X-f.Ends[0].At.X, p.Z-f.Ends[0].At.Z) <= s.view.length/2
		}) {
			return true
		}
	}
	return false
}

// trails reports whether a sighting lies behind a much stronger one along the beam.
func (s *sighting) trails() bool {
	return slices.ContainsFunc(s.view.sightings, func(front *sighting) bool {
		distance, behind := s.from(front)
		return behind && distance <= behindReach && front.LevelDB >= s.LevelDB+besideDrop
	})
}

// sameHole reports whether one hole explains a sighting and a sighting of another view.
func (s *sighting) sameHole(v *view) bool {
	return v != s.view && s.round() && slices.ContainsFunc(v.sightings, func(other *sighting) bool {
		return other.round() && s.apart(other) <= 1 && math.Abs(s.hole.StrengthDB-other.hole.StrengthDB) <= sameHole
	})
}

// round reports whether a hole explains a sighting, in a view without conversions.
func (s *sighting) round() bool {
	return s.hole != nil && s.hole.HoleFit >= minPoint && !s.view.converts()
}

// planar makes the entry of a planar flaw that package tips found.
func (l *lister) planar(f *tips.Flaw) {
	if l.contradicted(f) {
		return
	}
	var members []*sighting
	for _, e := range f.Evidence {
		for _, id := range e.Indications {
			if s := l.by(e.View, id); id != 0 && s != nil && s.entry == nil && !slices.Contains(members, s) {
				members = append(members, s)
			}
		}
	}
	if f.Method == tips.Face {
		members = slices.DeleteFunc(members, func(s *sighting) bool {
			return s.explained != ""
		})
	}
	if len(members) == 0 {
		return
	}
	entry := l.add(Planar, members...)
	entry.evidence = f.Evidence
	if f.Method != tips.OneTip {
		entry.planar = f
	}
}

// absorb gives the entries of planar flaws the indications on the line between their ends.
func (l *lister) absorb() {
	for _, v := range l.views {
		for _, s := range v.sightings {
			if s.entry != nil || s.explained != "" {
				continue
			}
			var best *entry
			least := 1.0
			for _, e := range l.entries {
				if e.planar == nil {
					continue
				}
				if d := s.off(e.planar); d < least {
					best, least = e, d
				}
			}
			if best != nil {
				best.take(s)
			}
		}
	}
}

// off returns the distance of a sighting to the line of a flaw, relative to the distance at which
// they may belong together: half of the extent of the spot, and half a wavelength.
func (s *sighting) off(f *tips.Flaw) float64 {
	a, b := f.Ends[0].At, f.Ends[1].At
	dx, dz := b.X-a.X, b.Z-a.Z
	t := ((s.X-a.X)*dx + (s.Z-a.Z)*dz) / (dx*dx + dz*dz)
	t = min(1, max(0, t))
	ux, uz := a.X+t*dx-s.X, a.Z+t*dz-s.Z
	distance := math.Hypot(ux, uz)
	if distance == 0 {
		return 0
	}
	return distance / (min(s.half(ux/distance, uz/distance), s.view.length) + s.view.length/2)
}

// geometry makes one entry of each wall, and one of each indication that an echo explains.
func (l *lister) geometry() {
	walls := map[string]*entry{}
	for _, v := range l.views {
		for _, s := range v.sightings {
			switch {
			case s.entry != nil || s.explained == "":
			case walls[s.wall] != nil:
				walls[s.wall].take(s)
			case s.wall != "":
				walls[s.wall] = l.add(Geometry, s)
			default:
				l.add(Geometry, s)
			}
		}
	}
}

// judge decides on the kind of an entry without tips.
func (e *entry) judge() {
	best := 0.0
	satellite := false
	for _, s := range e.sightings {
		if s.hole == nil {
			continue
		}
		best = max(best, s.hole.HoleFit)
		satellite = satellite || s.satellite()
	}
	least := minPoint
	if satellite {
		least = minBeside
	} else if len(e.sightings) > 1 {
		least = minPointBoth
	}
	if best >= least {
		e.kind = Point
	}
}

// satellite reports whether a sighting lies beside or behind a much stronger one of its view.
func (s *sighting) satellite() bool {
	for _, front := range s.view.sightings {
		if front.wall != "" || front.LevelDB < s.LevelDB+besideDrop {
			continue
		}
		if distance, behind := s.from(front); distance <= besideReach || behind && distance <= behindReach {
			return true
		}
	}
	return false
}

// from returns the distance of a sighting from another one of its view, in wavelengths, and reports
// whether it lies behind the other one along the beam.
func (s *sighting) from(front *sighting) (distance float64, behind bool) {
	dx, dz := s.X-front.X, s.Z-front.Z
	distance = math.Hypot(dx, dz)
	if front.hole != nil && front != s {
		away := front.hole.Away
		behind = dx*away.X+dz*away.Z >= distance*math.Cos(behindAngle)
	}
	return distance / s.view.length, behind
}

// late marks the entries that show behind a point as the waves that creep round a hole do. Only the
// place and the level tell, so the entries are not geometry but unknown.
func (l *lister) late() {
	entries := slices.Clone(l.entries)
	for _, e := range entries {
		slices.SortFunc(e.sightings, strongest)
	}
	slices.SortFunc(entries, func(a, b *entry) int { return strongest(a.sightings[0], b.sightings[0]) })
	for _, e := range entries {
		if e.kind != Point && e.kind != Unknown {
			continue
		}
		var fronts []*entry
		for _, s := range e.sightings {
			if front := s.creeps(); front != nil {
				fronts = append(fronts, front)
			}
		}
		if len(fronts) < len(e.sightings) {
			continue
		}
		e.kind = Unknown
		for i, s := range e.sightings {
			s.explained = "wave that creeps round the " + fronts[i].reflector().Name
		}
	}
}

// creeps returns the entry of the point round which the wave of a sighting may creep, or nil. Round
// a hole of radius a it shows about (1 + π/2)·a behind the near face, and again later.
func (s *sighting) creeps() *entry {
	for _, front := range s.view.sightings {
		distance, behind := s.from(front)
		drop := front.LevelDB - s.LevelDB
		once := distance <= creepReach && drop >= creepDrop
		again := distance <= behindReach && drop >= againDrop
		if front.entry.kind == Point && front.entry != s.entry && behind && (once || again) {
			return front.entry
		}
	}
	return nil
}

// strongest sorts sightings by their levels. Sightings of equal levels are sorted by z, and then by
// x.
func strongest(a, b *sighting) int {
	return cmp.Or(cmp.Compare(b.LevelDB, a.LevelDB), cmp.Compare(a.Z, b.Z), cmp.Compare(a.X, b.X),
		cmp.Compare(a.view.Name, b.view.Name), cmp.Compare(a.ID, b.ID))
}
