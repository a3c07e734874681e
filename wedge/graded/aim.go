// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// aim is the fan of an element with the candidates of all points. It does not change after it is
// made.
type aim struct {
	fan        *fan
	candidates [][]candidate
}

// newAim shoots a fan and finds the cells in which the points lie.
func newAim(element r3.Vec, points *pointIndex, o *search) *aim {
	a := &aim{newFan(element, o), make([][]candidate, len(points.points))}
	a.fan.locate(points, func(point int, c candidate) {
		a.candidates[point] = append(a.candidates[point], c)
	})
	// Rays to points are more accurate than the cells. A ray bends in some dozens of steps. Each
	// step may have an error of a hundredth of the tolerance.
	a.fan.tolerance = min(a.fan.tolerance, 1e-2*o.Tolerance*a.fan.spacing/a.fan.step)
	return a
}

// solution is a ray of a fan through a point.
type solution struct {
	candidate
	chain []*piece // pieces of its neighbour, up to the piece that holds the point
}

const (
	// arrived is the miss in m at which a ray counts as arrived. The error of the time is of the
	// order of the square of the miss.
	arrived  = 1e-8
	attempts = 30 // rays shot at a point; 2 or 3 are usual
)

// rays returns the rays to a point from its candidates, in the order of arrival.
func (f *fan) rays(candidates []candidate, q r3.Vec) []solution {
	if !f.part.inside(q, contactTolerance) || f.part.Coupling == nil && f.part.direct() &&
		distance(q, f.element) < tolerance {
		return nil
	}
	var out []solution
	for i, c := range candidates {
		if slices.ContainsFunc(candidates[:i], func(before candidate) bool {
			return f.same(before,
				c)
		}) {
			continue
		}
		s, ok := f.solve(c, q)
		if ok && !slices.ContainsFunc(out, func(before solution) bool { return equal(before, s) }) {
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(a, b solution) int { return cmp.Compare(a.time, b.time) })
	return out
}

// same reports whether two candidates stand for the same ray, found in two neighbouring triangles.
func (f *fan) same(a, b candidate) bool {
	const close = 0.02 // of a cell
	s := &f.strips[a.strip]
	return math.Abs(a.launch-b.launch) <= close*(s.b.launch-s.a.launch) &&
		math.Abs(a.time-b.time) <= close*f.step &&
		s.a.pieces[s.pieceA].path == f.strips[b.strip].a.pieces[f.strips[b.strip].pieceA].path
}

// equal reports whether two rays are the same ray, found from two cells, or in two zones at a point
// of a face.
func equal(a, b solution) bool {
	return math.Abs(a.time-b.time) <= 1e-12 &&
		math.Abs(math.Remainder(a.launch-b.launch, 2*math.Pi))*max(math.Abs(a.slope),
			math.Abs(b.slope)) <= 10*arrived
}

// solve shoots at a point until a ray goes through it. Next to a caustic, where two rays nearly
// coincide, it may find the other ray. It then fits a parabola to the misses around that ray. The
// ray of the candidate lies at the other root of the parabola.
func (f *fan) solve(c candidate, q r3.Vec) (solution, bool) {
	s := &f.strips[c.strip]
	out := solution{candidate: c}
	for i := s.pieceA; i >= 0; i = s.a.pieces[i].parent {
		out.chain = append(out.chain, &s.a.pieces[i])
	}
	slices.Reverse(out.chain)
	if !f.part.belongs(q, out.chain[len(out.chain)-1].room) || !f.secant(&out, q) {
		return out, false
	}
	if out.slope*c.slope >= 0 {
		return out, true
	}
	apart := (s.b.launch - s.a.launch) / 16
	before, _, ok := f.reach(out.chain, out.launch-apart, out.time, q, nil)
	after, _, fine := f.reach(out.chain, out.launch+apart, out.time, q, nil)
	if ok && fine && before+after != 0 {
		other := out
		other.slope = (before - after) / (2 * apart)
		other.launch += other.slope * 2 * apart * apart / (before + after)
		if f.secant(&other, q) {
			return other, true
		}
	}
	return out, true
}

// secant finds the ray to a point by the secant method. It starts from the launch, the time and the
// slope of s.
func (f *fan) secant(s *solution, q r3.Vec) bool {
	a, b := f.strips[s.strip].a.launch, f.strips[s.strip].b.launch
	width := max(b-a, 1e-3) // of a strip, or of several where they are narrow
	last, lastMiss := math.NaN(), math.NaN()
	for range attempts {
		if !(s.launch >= a-width && s.launch <= b+width) {
			return false
		}
		miss, time, ok := f.reach(s.chain, s.launch, s.time, q, nil)
		if !ok {
			if math.IsNaN(last) {
				return false
			}
			s.launch = (s.launch + last) / 2
			continue
		}
		s.time = time
		if slope := (miss - lastMiss) / (s.launch - last); slope*0 == 0 && slope != 0 {
			s.slope = slope
		}
		if math.Abs(miss) <= arrived {
			return true
		}
		last, lastMiss = s.launch, miss
		s.launch -= max(-width, min(width, miss/s.slope))
	}
	return false
}

// footprint is a wave on its ray.
type footprint struct {
	state
	room int // -1 in the coupling
	exit int // the number of the surface by which the wave leaves the room here, or -1
}

// reach shoots a ray through given zones, near given pieces. It returns the time at which the wave
// front reaches the point, and the distance by which the ray then misses the point. The distance
// is measured along the wave front. It is above 0 on the side to which the normal points after a
// turn by +90°. reach adds the ray to the trail, if the trail is not nil: each step, and each place on
// a face twice, before and behind the face.
func (f *fan) reach(
	chain []*piece, launch, guess float64, q r3.Vec, trail *[]footprint,
) (miss, time float64, ok bool) {
	pass := func(room, exit int, s state) {
		if trail != nil {
			*trail = append(*trail, footprint{s, room, exit})
		}
	}
	at, time, ok := f.entry(launch)
	if !ok {
		return 0, 0, false
	}
	angles := f.enter(launch, at, chain[0].room, chain[0].start.angle)
	end := len(chain) - 1
	for i, p := range chain[:end] {
		if len(angles) == 0 {
			return 0, 0, false
		}
		now, left, after, ok := f.cross(p, state{at.X, at.Z, angles[0]}, pass)
		if !ok || left.room != chain[i+1].room {
			return 0, 0, false
		}
		pass(p.room, left.exit, now)
		at, time = now.at(f.y), time+after
		face, along := f.along(left, p.room, now)
		angles = f.transmitted(f.part.rooms[left.room], at, face, along, chain[i+1].start.angle)
	}
	if len(angles) == 0 {
		return 0, 0, false
	}
	now := state{at.X, at.Z, angles[0]}
	entered := time
	pass(chain[end].room, -1, now)
	medium := f.part.rooms[chain[end].room]
	for time+f.step < guess {
		next := f.advance(medium, now, f.step)
		if _, left := f.leaves(chain[end].room, now, next, f.step); left || !next.finite() {
			return 0, 0, false
		}
		now, time = next, time+f.step
		pass(chain[end].room, -1, now)
	}
	now, time = f.advance(medium, now, guess-time), guess
	var slow float64
	for range 4 {
		slow = 1 / medium.Phase(f.pol, now.at(f.y), now.angle).Speed
		late := slow * r3.Dot(heading(now.angle), r3.Sub(now.at(q.Y), q))
		now, time = f.advance(medium, now, -late), time-late
		if math.Abs(late) <= 1e-14*time {
			break
		}
	}
	pass(chain[end].room, -1, now)
	miss = r3.Dot(heading(now.angle+math.Pi/2), r3.Sub(now.at(q.Y), q))
	return miss, time, miss*0 == 0 && time >= max(entered-slow*contactTolerance, 0)
}

// cross follows a wave through the zone of a piece to the face by which the piece leaves. It
// returns the time that the wave takes.
func (f *fan) cross(p *piece, now state, pass func(room, exit int, s state)) (state, crossing, float64, bool) {
	medium := f.part.rooms[p.room]
	for k := range int(f.latest/f.step) + 1 {
		pass(p.room, -1, now)
		next := f.advance(medium, now, f.step)
		if !next.finite() {
			break
		}
		if c, left := f.leaves(p.room, now, next, f.step); left {
			return f.advance(medium, now, c.share*f.step), c, f.step * (float64(k) +
				c.share), c.exit == p.exit
		}
		now = next
	}
	return state{}, crossing{}, 0, false
}
