// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// StationaryRay is one of several rays between two points.
type StationaryRay struct {
	Ray
	// Index is the number of independent moves of the crossings in the section that shorten the
	// time to second order. It is 0 if the time is a minimum among the paths beside the ray, and
	// the number of crossings if it is a maximum. By Morse's index theorem it is also the number of
	// caustics that the ray has touched. Each caustic advances the phase of the wave by a quarter
	// of a cycle.
	Index int
	// Radius is the radius of the wavefront in the section at the end of the ray, in m. It is
	// positive where the wave diverges, and negative where the wave converges to a caustic ahead.
	Radius float64
	// Caustic tells that the end lies too near to a caustic for ray theory to give the amplitude.
	// Then |Radius| is below a thousandth of the length of the ray.
	Caustic bool
}

// RaysOptions modifies [Path.Rays]. Nil stands for the zero value.
type RaysOptions struct {
	// Step is the largest distance in m, above 0, between the crossings of neighbouring rays of the
	// search; 0 stands for a 2000th of Reach. The search can miss rays that lie nearer to each
	// other.
	Step float64
	// Reach is the largest distance in m, above 0, of a crossing from the start. The value 0 stands
	// for four times the larger of two distances: from the start to the end, and from the start to
	// the farthest surface.
	Reach float64
}

// Rays finds all rays of p from one point to another, in m, in ascending order of time. There are
// several under a concave surface or a wavy surface. The result is empty if there is no ray.
//
// Both ends must have the same y. All surfaces must be extruded ([Surface.Extruded]). Anything else
// is an error. So is an end for which [Path.Solve] returns the
// status [StartOutside] or [EndOutside].
//
// # Method
//
// Rays sends rays from the start in all directions, so closely that Step is kept. It follows each
// ray by Snell's law to the last surface. The mismatch of Snell's law there, for a last leg to the
// end, is a function of the direction. Rays solves for a ray wherever the mismatch changes its sign
// or has a least absolute value. A ray is found if each of its legs meets its surface before it
// meets the same surface elsewhere. Tests compare the counts with a fine scan over random wavy
// surfaces, and with a lattice of starts of the general solver.
func (p *Path) Rays(from, to r3.Vec, options *RaysOptions) ([]StationaryRay, error) {
	if options == nil {
		options = new(RaysOptions)
	}
	distance := r3.Norm(r3.Sub(to, from))
	step, reach := options.Step, options.Reach
	if reach == 0 {
		reach = distance
		for _, c := range p.crossings {
			reach = max(reach, math.Abs(c.Surface.Depth(from)))
		}
		reach *= 4
	}
	if step == 0 {
		step = reach / 2000
	}
	switch {
	case !p.startsAt(from):
		return nil, StartOutside.Err()
	case !p.endsAt(to):
		return nil, EndOutside.Err()
	case from.Y != to.Y:
		return nil, fmt.Errorf("wedge: rays from y = %v m to y = %v m: want both ends in one section",
			from.Y, to.Y)
	case len(p.crossings) == 0:
		if r := p.Solve(from, to); r.Status == OK {
			return []StationaryRay{{Ray: r, Radius: distance}}, nil
		}
		return nil, nil
	}
	if reach == 0 {
		return nil, fmt.Errorf("wedge: rays from %v m to itself, on every surface: want ends that are apart, or a reach",
			from)
	}
	section := newSection(p)
	if section == nil {
		return nil, fmt.Errorf("wedge: rays within a section: want surfaces that are extruded along y")
	}
	if err := checkPositive("step of the search for rays", step, "m"); err != nil {
		return nil, err
	}
	if err := checkPositive("reach of the search for rays", reach, "m"); err != nil {
		return nil, err
	}
	s := &search{
		shooter: newShooter(section, flat(from), reach), solver: newSolver(p),
		from: from, to: to, step: step,
	}
	s.run()
	slices.SortFunc(s.found, func(a, b StationaryRay) int { return cmp.Compare(a.Time, b.Time) })
	return s.found, nil
}

// search looks for all rays between two points of a section.
type search struct {
	*shooter
	solver   *solver
	from, to r3.Vec
	step     float64
	last     try // the try before, which shows where the mismatch is least
	found    []StationaryRay
}

// try is a shot with a last leg to the end.
type try struct {
	shot
	mismatch float64 // of Snell's law at the last crossing, s/m
}

// aimed returns the shot in a direction, with a last leg to the end.
func (s *search) aimed(angle float64) try {
	a := try{shot: s.shoot(angle)}
	e := flat(s.to).minus(a.at)
	length := math.Hypot(e.x, e.z)
	a.ok = a.ok && length > 0
	a.mismatch = a.slow - s.section.slowness[len(s.crossings)]*(e.x*a.tx+e.z*a.tz)/length
	return a
}

const (
	directions = 720 // number of the first rays, all around the start
	// halvings is how many times the angle between two rays is halved where their crossings lie
	// far apart, or where one ray has no crossing. The final angle is a millionth of a radian,
	// which is 0.1 µm after 100 mm.
	halvings = 13
	// blind is how many times the angle is halved where neither of two rays reaches the last
	// surface.
	blind = 2
)

// run shoots rays in all directions.
func (s *search) run() {
	first := s.aimed(-math.Pi)
	a := first
	for i := 1; i <= directions; i++ {
		b := s.aimed(-math.Pi + 2*math.Pi*float64(i)/directions)
		s.between(a, b, 0)
		a = b
	}
}

// between looks for rays between the directions of two shots.
func (s *search) between(a, b try, depth int) {
	apart := math.Hypot(a.at.x-b.at.x, a.at.z-b.at.z)
	switch {
	case !a.ok && !b.ok && depth >= blind:
	case depth < halvings && (!a.ok || !b.ok || !(apart <= s.step)):
		middle := s.aimed((a.angle + b.angle) / 2)
		s.between(a, middle, depth+1)
		s.between(middle, b, depth+1)
	case a.ok && b.ok:
		s.compare(a, b)
	}
}

// compare solves for a ray between two shots that lie close together if the mismatch changes its
// sign from one to the other. It solves for a ray at the first shot if the absolute mismatch is
// smaller there than at both neighbours.
func (s *search) compare(a, b try) {
	if (a.mismatch < 0) != (b.mismatch < 0) {
		for range 50 {
			middle := s.aimed((a.angle + b.angle) / 2)
			if !middle.ok {
				break
			}
			if (middle.mismatch < 0) == (a.mismatch < 0) {
				a = middle
			} else {
				b = middle
			}
		}
		s.keep(b.angle)
	} else if least := math.Abs(a.mismatch); s.last.ok && s.last.angle < a.angle &&
		least <= math.Abs(s.last.mismatch) && least <= math.Abs(b.mismatch) {
		s.keep(a.angle)
	}
	s.last = a
}

// keep solves for the ray near the ray in a direction, and records it if it is new.
func (s *search) keep(angle float64) {
	if !s.shoot(angle).ok {
		return
	}
	w := s.solver
	w.aim(s.from, s.to)
	for i, c := range s.crossings {
		w.place(i, r3.Vec{X: c.x, Y: s.from.Y, Z: c.z})
	}
	if !w.refine() || w.checkSides() != OK || w.checkWalls() != OK {
		return
	}
	a := StationaryRay{}
	a.record(w)
	for i := range s.found {
		if coincide(s.found[i].Points, a.Points) {
			return
		}
	}
	s.section.adopt(w, flat(s.from), flat(s.to))
	a.Index = s.section.index()
	a.Radius = s.section.slopes(flat(s.to), point{1, 0}, point{0, 1}).radius
	a.Caustic = !(math.Abs(a.Radius) > causticRadius*w.span)
	s.found = append(s.found, a)
}

// causticRadius is the radius of the wavefront, as a share of the length of the ray, below which
// the end lies too near to a caustic.
const causticRadius = 1e-3

// index returns the index of the ray last adopted: the number of negative pivots, by Sylvester's
// law of inertia.
func (s *section) index() int {
	n := 0
	for _, r := range s.rows {
		if r.pivot < 0 {
			n++
		}
	}
	return n
}

// coincide reports whether two rays cross the surfaces at the same places, within 1e-7 m.
func coincide(a, b []r3.Vec) bool {
	for i := range a {
		if r3.Norm(r3.Sub(a[i], b[i])) > 1e-7 {
			return false
		}
	}
	return true
}
