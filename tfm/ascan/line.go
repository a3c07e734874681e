// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Line is the axis of a beam: the ray that leaves the centre of the aperture and refracts to the
// angle of the beam, with its skips. All coordinates are in m.
type Line struct {
	// Centre is the centre of the aperture: the mean place of its elements. For an array in contact
	// it is the exit point.
	Centre r3.Vec `json:"centre_m"`
	// Exit is the exit point of the beam on the entry surface. For a single beam of a probe it is
	// the probe index point.
	Exit r3.Vec `json:"exit_m"`
	// Angle is the refraction angle in rad, as in [Beam].
	Angle float64 `json:"angle_rad"`
	// Speed is the wave speed in the part in m/s.
	Speed float64 `json:"speed_m_s"`
	// Delay is the time from the centre of the aperture to the exit point in s, one way.
	Delay float64 `json:"delay_s"`
	// Legs are the straight pieces in the part, in order of travel, 64 at most. The last leg ends
	// with the record, or where the beam leaves the part.
	Legs []Leg `json:"legs"`
}

// Leg is a straight piece of a [Line] in the part.
type Leg struct {
	From      r3.Vec  `json:"from_m"`       // m
	To        r3.Vec  `json:"to_m"`         // m
	SoundPath float64 `json:"sound_path_m"` // at From, m
}

// Length returns the sound path in m at which the line ends. It is 0 without legs.
func (l *Line) Length() float64 {
	if len(l.Legs) == 0 {
		return 0
	}
	last := l.Legs[len(l.Legs)-1]
	return last.SoundPath + r3.Norm(r3.Sub(last.To, last.From))
}

// At returns the place in the part at a sound path s in m, and the number of its leg from 1. The
// number of skips on the way is leg - 1. Outside 0 to [Line.Length] leg is 0, and the place is NaN.
func (l *Line) At(s float64) (p r3.Vec, leg int) {
	if !(s >= 0 && s <= l.Length()) || len(l.Legs) == 0 {
		return r3.Vec{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}, 0
	}
	leg = sort.Search(len(l.Legs), func(k int) bool { return l.Legs[k].SoundPath > s })
	k := l.Legs[leg-1]
	along := r3.Unit(r3.Sub(k.To, k.From))
	return r3.Add(k.From, r3.Scale(s-k.SoundPath, along)), leg
}

// SoundPath returns the sound path in m, one way from the exit point, of an echo at the time t in s
// from the transmitted pulse. It is below 0 for echoes from before the exit point.
func (l *Line) SoundPath(t float64) float64 { return l.Speed * (t/2 - l.Delay) }

// Time returns the time in s of an echo at the sound path s in m: there and back.
func (l *Line) Time(s float64) float64 { return 2 * (l.Delay + s/l.Speed) }

// tracer follows the axes of beams of one mode through a set-up.
type tracer struct {
	setup *wedge.Setup
	mode  material.Mode
	speed float64       // in the part
	paths []*wedge.Path // by number of legs, from 1
}

func newTracer(setup *wedge.Setup, mode material.Mode) (*tracer, error) {
	if setup == nil {
		return nil, errors.New("ascan: beam without a set-up: want one")
	}
	if err := setup.Validate(); err != nil {
		return nil, err
	}
	t := &tracer{setup: setup, mode: mode, speed: setup.Part.Longitudinal}
	if mode == material.T {
		t.speed = setup.Part.Transverse
	}
	if !(t.speed > 0) {
		return nil, fmt.Errorf("ascan: mode %v: the part has no such wave", mode)
	}
	return t, nil
}

// path returns the path from an element to a point on a leg.
func (t *tracer) path(leg int) (*wedge.Path, error) {
	if leg < 1 || leg > maxLegs {
		return nil, fmt.Errorf("ascan: leg %d: want 1 to %d", leg, maxLegs)
	}
	for n := len(t.paths) + 1; n <= leg; n++ {
		modes := make([]material.Mode, n)
		for i := range modes {
			modes[i] = t.mode
		}
		path, err := t.setup.Path(modes)
		if err != nil {
			return nil, err
		}
		t.paths = append(t.paths, path)
	}
	return t.paths[leg-1], nil
}

// maxLegs limits the legs of a line, in a thin part and a long record.
const maxLegs = 64

// foot returns the point of the entry surface that is nearest to p.
func (t *tracer) foot(p r3.Vec) r3.Vec {
	u, v := t.setup.Entry.Locate(p)
	return t.setup.Entry.At(u, v).P
}

// axes returns the unit vectors along the entry surface, towards +x, and into the part, at the
// point of the surface that is nearest to p.
func (t *tracer) axes(p r3.Vec) (along, normal r3.Vec, err error) {
	patch := t.setup.Entry.At(t.setup.Entry.Locate(p))
	normal = patch.Normal()
	if !(math.Abs(normal.Y) < 1e-9) {
		return along, normal, fmt.Errorf("ascan: the entry surface at %v m is inclined along y: want a surface with normals in the section", p)
	}
	return r3.Vec{X: normal.Z, Z: -normal.X}, normal, nil
}

// line traces a beam from a centre of the aperture to a length in the part.
func (t *tracer) line(centre r3.Vec, angle, length float64) (*Line, error) {
	l := &Line{Centre: centre, Exit: t.foot(centre), Angle: angle, Speed: t.speed}
	if t.setup.Coupling == nil {
		l.Centre = l.Exit
	} else if r3.Norm(r3.Sub(l.Exit, centre)) > contactDistance {
		sin := t.setup.Coupling.Longitudinal / t.speed * math.Sin(angle)
		exit, err := t.exit(centre, sin)
		if err != nil {
			return nil, fmt.Errorf("%w (refraction angle %.4g rad)", err, angle)
		}
		l.Exit = exit
		l.Delay = r3.Norm(r3.Sub(exit, centre)) / t.setup.Coupling.Longitudinal
	}
	if within(t.setup.EntryGaps, l.Exit.X) {
		return nil, fmt.Errorf("ascan: exit point at x = %.4g m lies in a gap of the entry surface", l.Exit.X)
	}
	if c := t.setup.Contact; c != nil && !(l.Exit.X >= c.Min && l.Exit.X <= c.Max) {
		return nil, fmt.Errorf("ascan: exit point at x = %.4g m: want %.4g to %.4g m, where the wedge touches the part", l.Exit.X, c.Min, c.Max)
	}
	along, normal, err := t.axes(l.Exit)
	if err != nil {
		return nil, err
	}
	sin, cos := math.Sincos(angle)
	t.fold(l, r3.Add(r3.Scale(sin, along), r3.Scale(cos, normal)), length)
	return l, nil
}

// contactDistance is the distance in m from the entry surface below which an aperture counts as in
// contact: the tolerance of [wedge.Setup].
const contactDistance = 10e-6

// exit returns the point of the entry surface where a ray from centre arrives at the angle of
// incidence with the given sine. Of several such points it returns the one next to the foot of
// centre. From the foot, where the angle is 0, it goes along the surface until the sine is passed,
// and then halves the last step.
func (t *tracer) exit(centre r3.Vec, sin float64) (r3.Vec, error) {
	entry := t.setup.Entry
	u, v := entry.Locate(centre)
	height := r3.Norm(r3.Sub(entry.At(u, v).P, centre))
	arrives := func(u float64) bool {
		patch := entry.At(u, v)
		n := patch.Normal()
		ray := r3.Unit(r3.Sub(patch.P, centre))
		return math.Abs(r3.Dot(ray, r3.Vec{X: n.Z, Z: -n.X})) >= math.Abs(sin)
	}
	if sin == 0 {
		return entry.At(u, v).P, nil
	}
	step := math.Copysign(height/200, sin)
	for range 250 {
		if arrives(u + step) {
			_, u = halve(u, u+step, arrives)
			return entry.At(u, v).P, nil
		}
		u, step = u+step, 1.03*step
	}
	return r3.Vec{}, fmt.Errorf("ascan: no ray from the aperture at %v m arrives at the sine %.4g of the angle of incidence", centre, sin)
}

// fold adds the legs of a beam that leaves the exit point in a direction, up to a sound path.
func (t *tracer) fold(l *Line, direction r3.Vec, length float64) {
	from, done := l.Exit, 0.0
	for len(l.Legs) < maxLegs && done < length {
		reach, wall := t.reach(from, direction, length-done, len(l.Legs)%2 == 0)
		to := r3.Add(from, r3.Scale(reach, direction))
		l.Legs = append(l.Legs, Leg{From: from, To: to, SoundPath: done})
		if wall == nil {
			return
		}
		n := wall.At(wall.Locate(to)).Normal()
		direction = r3.Sub(direction, r3.Scale(2*r3.Dot(direction, n), n))
		from, done = to, done+reach
	}
}

// reach returns how far a leg goes, in m, and the wall off which the beam skips there. The wall is
// nil if the beam does not skip. A leg down skips off the back wall, a leg up off the entry
// surface. The search moves by the distance to the nearest wall, so it cannot pass through one.
func (t *tracer) reach(from, direction r3.Vec, limit float64, down bool) (float64, wedge.Surface) {
	at := func(reach float64) r3.Vec { return r3.Add(from, r3.Scale(reach, direction)) }
	for inside := 0.0; inside < limit; {
		outside := inside + max(t.room(at(inside)), leastMove)
		if t.room(at(outside)) >= 0 {
			inside = outside
			continue
		}
		inside, outside = halve(inside, outside, func(reach float64) bool { return t.room(at(reach)) < 0 })
		if inside > limit {
			break
		}
		return inside, t.wall(at(inside), at(outside), down)
	}
	return limit, nil
}

// room returns the distance from p to the nearest wall of the part in m. It is below 0 outside.
func (t *tracer) room(p r3.Vec) float64 {
	distance := t.setup.Entry.Depth(p)
	if t.setup.Back != nil {
		distance = min(distance, -t.setup.Back.Depth(p))
	}
	for _, side := range t.setup.Sides {
		distance = min(distance, -side.Depth(p))
	}
	return distance
}

// wall returns the wall between two points, inside and outside the part, if the beam skips off it.
func (t *tracer) wall(inside, outside r3.Vec, down bool) wedge.Surface {
	s := t.setup
	for _, side := range s.Sides {
		if side.Depth(outside) > 0 {
			return nil
		}
	}
	if down && s.Back != nil && s.Back.Depth(outside) > 0 && !within(s.BackGaps, inside.X) {
		return s.Back
	}
	if !down && s.Entry.Depth(outside) < 0 && !within(s.EntryGaps, inside.X) {
		return s.Entry
	}
	return nil
}

// halve narrows an interval down to the place where a condition becomes true. The condition is
// false at the first end and true at the second end.
func halve(before, behind float64, condition func(float64) bool) (float64, float64) {
	for range 60 {
		if middle := (before + behind) / 2; condition(middle) {
			behind = middle
		} else {
			before = middle
		}
	}
	return before, behind
}

// leastMove is the smallest step in m of the search for a wall.
const leastMove = 10e-6

// within reports whether x lies in one of the gaps, without their ends.
func within(gaps []wedge.Interval, x float64) bool {
	for _, g := range gaps {
		if x > g.Min && x < g.Max {
			return true
		}
	}
	return false
}

// depth returns the sound path at which a leg comes to the depth z in m, if it does.
func (l Leg) depth(z float64) (s float64, ok bool) {
	share := (z - l.From.Z) / (l.To.Z - l.From.Z)
	return l.SoundPath + share*r3.Norm(r3.Sub(l.To, l.From)), share >= 0 && share <= 1
}
