// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/spatial/r3"
)

// StationaryRay is one of the rays between two points.
type StationaryRay struct {
	Ray
	// Index is the number of independent moves of the crossings within the section
	// that shorten the time to second order: 0 for a minimum. By Morse's index
	// theorem it is also the number of caustics that the ray has touched, each of
	// which delays its phase by a quarter of a cycle.
	Index int
	// Radius is that of the wavefront in the section where the ray ends, in m:
	// positive where it diverges, negative where it converges to a caustic ahead.
	Radius float64
	// Caustic tells that the end lies so near to a caustic that rays do not give
	// the amplitude: that the wavefront's radius is below a thousandth of the
	// length of the ray.
	Caustic bool
}

// RaysOptions modifies [Path.Rays]. Nil stands for the zero value.
type RaysOptions struct {
	// Step is the distance in m, above 0, by which crossings of neighbouring rays
	// may lie apart in the search; 0 stands for a 2000th of the reach. Rays that lie nearer to each other than that may be missed.
	Step float64
	// Reach is how far from the start a crossing may lie, in m, above 0; 0 stands
	// for four times its distance from the end, or from the farthest surface.
	Reach float64
}

// Rays finds every ray of p from one point to another, the quickest first.
// There are several under a concave surface, or a wavy one.
//
// It sends rays from the start in all directions, closely enough for Step,
// follows each by Snell's law to the last surface, and solves for the ray wherever
// the law's mismatch there, towards the end, changes sign or is least. So it
// finds the rays of which each leg meets its surface before it meets that surface
// elsewhere. It works within a section: both ends must have the same y, and all
// surfaces be planes, cylinders or profiles extruded along y. Anything else, and
// an end that [Path.Solve] gives the status [StartOutside] or [EndOutside], is an
// error. No ray is none.
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
		return nil, fmt.Errorf("wedge: rays from y = %v m to y = %v m: want both ends in one section", from.Y, to.Y)
	case len(p.crossings) == 0:
		if r := p.Solve(from, to); r.Status == OK {
			return []StationaryRay{{Ray: r, Radius: distance}}, nil
		}
		return nil, nil
	}
	if reach == 0 {
		return nil, fmt.Errorf("wedge: rays from %v m to itself, on every surface: want ends that are apart, or a reach", from)
	}
	section := newSection(p)
	if section == nil {
		return nil, fmt.Errorf("wedge: rays within a section: want surfaces that are planes, cylinders or profiles extruded along y")
	}
	if err := checkPositive("step of the search for rays", step, "m"); err != nil {
		return nil, err
	}
	if err := checkPositive("reach of the search for rays", reach, "m"); err != nil {
		return nil, err
	}
	s := &search{
		section: section, solver: newSolver(p),
		from: from, to: to, step: step, reach: reach,
		crossings: make([]point, len(p.crossings)),
	}
	s.run()
	slices.SortFunc(s.found, func(a, b StationaryRay) int { return cmp.Compare(a.Time, b.Time) })
	return s.found, nil
}

// search looks for all rays between two points of a section.
type search struct {
	section     *section
	solver      *solver
	from, to    r3.Vec
	step, reach float64
	crossings   []point // of the ray last shot
	last        shot    // the one before, to see where the mismatch is least
	found       []StationaryRay
}

// shot is a ray sent in a direction.
type shot struct {
	angle    float64
	ok       bool
	mismatch float64 // of Snell's law at the last crossing, s/m
	at       point   // the last crossing
}

const (
	directions = 720 // of the first rays, round the start
	// halvings is how often the angle between two of them is halved, where the
	// crossings of one are far from the other's or do not exist: to a
	// millionth of a radian, 0.1 µm after 100 mm.
	halvings = 13
	// blind is how often it is halved where neither of two rays gets to the end.
	blind = 2
)

// run shoots all round.
func (s *search) run() {
	first := s.shoot(-math.Pi)
	a := first
	for i := 1; i <= directions; i++ {
		b := s.shoot(-math.Pi + 2*math.Pi*float64(i)/directions)
		s.between(a, b, 0)
		a = b
	}
}

// between looks for rays between two shots.
func (s *search) between(a, b shot, depth int) {
	apart := math.Hypot(a.at.x-b.at.x, a.at.z-b.at.z)
	switch {
	case !a.ok && !b.ok && depth >= blind:
	case depth < halvings && (!a.ok || !b.ok || !(apart <= s.step)):
		middle := s.shoot((a.angle + b.angle) / 2)
		s.between(a, middle, depth+1)
		s.between(middle, b, depth+1)
	case a.ok && b.ok:
		s.compare(a, b)
	}
}

// compare solves for a ray between two shots that are near each other, if the
// mismatch changes sign from one to the other, or at the first, if it is less
// there than at both of its neighbours.
func (s *search) compare(a, b shot) {
	if (a.mismatch < 0) != (b.mismatch < 0) {
		for range 50 {
			middle := s.shoot((a.angle + b.angle) / 2)
			if !middle.ok {
				break
			}
			if (middle.mismatch < 0) == (a.mismatch < 0) {
				a = middle
			} else {
				b = middle
			}
		}
		s.try(b.angle)
	} else if s.last.ok && s.last.angle < a.angle && math.Abs(a.mismatch) <= math.Abs(s.last.mismatch) && math.Abs(a.mismatch) <= math.Abs(b.mismatch) {
		s.try(a.angle)
	}
	s.last = a
}

// try solves for the ray near the one in a direction and keeps it if it is new.
func (s *search) try(angle float64) {
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
	for _, r := range s.section.rows {
		if r.pivot < 0 {
			a.Index++ // by Sylvester's law of inertia
		}
	}
	a.Radius = s.section.slopes(flat(s.to), point{1, 0}, point{0, 1}).radius
	a.Caustic = !(math.Abs(a.Radius) > 1e-3*w.span)
	s.found = append(s.found, a)
}

// coincide reports whether two rays cross the surfaces at the same places, as far as
// the solver tells.
func coincide(a, b []r3.Vec) bool {
	for i := range a {
		if r3.Norm(r3.Sub(a[i], b[i])) > 1e-7 {
			return false
		}
	}
	return true
}

// shoot follows a ray from the start to the last surface.
func (s *search) shoot(angle float64) shot {
	sin, cos := math.Sincos(angle)
	at, d := flat(s.from), point{sin, cos}
	stations, slowness := s.section.stations, s.section.slowness
	last := len(stations) - 1
	result := shot{angle: angle}
	for k := range stations {
		t := &stations[k]
		if !t.hit(at, d) || math.Hypot(t.x-s.from.X, t.z-s.from.Z) > s.reach {
			return result
		}
		at = point{t.x, t.z}
		s.crossings[k] = at
		along, across := d.x*t.tx+d.z*t.tz, d.z*t.tx-d.x*t.tz
		if across*t.in <= 0 {
			return result
		}
		if k == last {
			e := flat(s.to).minus(at)
			length := math.Hypot(e.x, e.z)
			result.at, result.ok = at, length > 0
			result.mismatch = slowness[k]*along - slowness[k+1]*(e.x*t.tx+e.z*t.tz)/length
			return result
		}
		along *= slowness[k] / slowness[k+1]
		if !(math.Abs(along) < 1) {
			return result
		}
		across = t.out * math.Sqrt(1-along*along)
		d = point{along*t.tx - across*t.tz, along*t.tz + across*t.tx}
	}
	return result
}

// hit moves the station to where the ray from a point in a direction, a unit
// vector, first meets its curve, and reports whether it does.
func (t *station) hit(from, d point) bool {
	// A ray that leaves the curve itself meets it again only farther on.
	const start = 1e-7
	switch t.kind {
	case straight:
		length := (t.tz*(from.x-t.cx) - t.tx*(from.z-t.cz)) / (d.z*t.tx - d.x*t.tz)
		if !(length > start) || math.IsInf(length, 0) {
			return false
		}
		t.x, t.z = from.x+length*d.x, from.z+length*d.z
		return true
	case circular:
		mx, mz := from.x-t.cx, from.z-t.cz
		half := mx*d.x + mz*d.z
		for _, length := range ordered(quadraticRoots(1, 2*half, mx*mx+mz*mz-t.radius*t.radius)) {
			if length > start {
				t.x, t.z = from.x+length*d.x, from.z+length*d.z
				// The centre lies a radius along the normal.
				t.tx, t.tz = (t.cz-t.z)/t.radius, (t.x-t.cx)/t.radius
				return true
			}
		}
		return false
	}
	x, ok := t.profile.meet(point{from.x + start*d.x, from.z + start*d.z}, d)
	if ok {
		t.u = x
		t.round(0)
	}
	return ok
}

func ordered(roots [2]float64) [2]float64 {
	if roots[0] > roots[1] {
		roots[0], roots[1] = roots[1], roots[0]
	}
	return roots
}

// meet returns the x at which the ray from a point in a direction first meets the
// profile, and whether it does.
func (p *profile) meet(from, d point) (x float64, ok bool) {
	if math.Abs(d.x) < 1e-12 {
		z, _, _ := p.curve(from.x)
		return from.x, (z-from.z)*d.z > 0
	}
	slope := d.z / d.x
	above := func(x float64) float64 { // how far the line lies above the curve, along z
		z, _, _ := p.curve(x)
		return z - from.z - (x-from.x)*slope
	}
	side := above(from.x) < 0
	// Between these places, from the start on, the line and the curve approach or
	// part, and so meet once at most.
	at := from.x
	crossed := func(next float64) bool {
		if (next-at)*d.x <= 0 {
			return false
		}
		if (above(next) < 0) == side {
			at = next
			return false
		}
		low, high := at, next
		for range 60 {
			if middle := low + (high-low)/2; (above(middle) < 0) == side {
				low = middle
			} else {
				high = middle
			}
		}
		x = high
		return true
	}
	forward := d.x > 0
	first := max(sort.SearchFloat64s(p.x, at)-1, 0) // the span of the start
	if !forward {
		first = p.final - 1 - min(first, p.final-1)
	}
	for k := first; k < p.final; k++ {
		i := k
		if !forward {
			i = p.final - 1 - k
		}
		near, far := p.x[i], p.x[i+1]
		if !forward {
			near, far = far, near
		}
		if (far-at)*d.x <= 0 {
			continue
		}
		if crossed(near) {
			return x, true
		}
		roots := ordered(quadraticRoots(p.dbend[i]/2, p.bend[i], p.dz[i]-slope))
		if !forward {
			roots[0], roots[1] = roots[1], roots[0]
		}
		for _, t := range roots {
			if e := p.x[i] + t; (e-near)*d.x > 0 && (far-e)*d.x > 0 && crossed(e) {
				return x, true
			}
		}
		if crossed(far) {
			return x, true
		}
	}
	// Beyond the points both are straight.
	_, dz, _ := p.curve(at)
	if end := at - above(at)/(dz-slope); (end-at)*d.x > 0 && !math.IsInf(end, 0) {
		return end, true
	}
	return 0, false
}
