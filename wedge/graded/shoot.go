// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// piece is the part of a ray in one zone. It has samples at multiples of a common time step.
// Samples also lie beyond both ends, as if the zone continued. So the cells between the samples of
// two neighbouring pieces cover the zone up to its faces.
type piece struct {
	path    string  // room and branch of this piece and all before it
	room    int     // of the space
	parent  int     // index of the piece before, or -1
	start   state   // at the time enter
	enter   float64 // s
	leave   float64 // s
	exit    int     // number of the wall by which it leaves, or -1
	folds   int     // of the next room, seen from there
	first   int     // number of the first sample in time steps
	samples []state

	// For interpolation:
	corners []corner   // the samples
	inner   [][]corner // the corners between each sample and the next
	edge    bool       // the piece lies at the edge of a kind of rays
}

// shot is the tree of the pieces of one wave that leaves the element. It is a tree, because behind
// a face a wave may continue as two waves of the same polarisation.
type shot struct {
	launch float64 // direction of the wave normal at the element, rad
	folds  int     // of the first zone, seen from where it enters through a coupling
	pieces []piece
	// limited and left report whether the wave goes on beyond a limit of the search, or beyond the
	// region of the caller.
	limited, left bool
}

// shooter shoots rays of one polarisation from an element.
type shooter struct {
	marcher
	part    *space
	element r3.Vec
	target  rectangle // around all points
	region  rectangle
	bounded bool    // the region is the region of the caller
	far     float64 // distance from the target from which straight rays are tested for return, m
	step    float64 // of the samples, s
	spacing float64 // about the way of a step, m
	latest  float64 // time at which rays end, s
	corners bool    // pieces get corners
}

const (
	deepest  = 32   // rooms that a ray may cross
	bushiest = 1024 // pieces of a shot
	branches = 120  // phase directions in which a full turn is searched for transmitted waves
	overhang = 2    // samples of a piece beyond its end
)

// shoot follows the waves that leave the element with the given normal.
func (s *shooter) shoot(launch float64) shot {
	out := shot{launch: launch}
	at, time, ok := s.entry(launch)
	if !ok {
		out.left = s.bounded
		return out
	}
	zone := s.part.zone(at)
	if s.part.Coupling != nil {
		face, along := s.refraction(launch, at)
		out.folds = s.folds(s.part.rooms[zone], at, face, along)
	}
	for room := range s.part.Media { // of the first leg
		if !s.part.belongs(at, room) {
			continue // an element in contact on a face belongs to two zones
		}
		for k, angle := range s.enter(launch, at, room, math.NaN()) {
			s.follow(&out, piece{
				path: string([]byte{byte(room), byte(k)}), room: room, parent: -1,
				start: state{at.X, at.Z, angle}, enter: time,
			})
		}
	}
	return out
}

// entry returns the place and the time at which a wave comes to the part.
func (s *shooter) entry(launch float64) (at r3.Vec, time float64, ok bool) {
	if s.part.Coupling == nil {
		return s.element, 0, true
	}
	along := heading(launch)
	within := 4 * (s.region.longest() + math.Abs(s.part.Entry.Depth(s.element)) +
		s.region.away(s.element))
	length, ok := meet(s.part.Entry, s.element, along, within)
	at = r3.Add(s.element, r3.Scale(length, along))
	return at, length / s.part.Coupling.Longitudinal, ok && s.region.away(at) == 0
}

// refraction returns the angle of the entry surface at a point, and the slowness along the surface
// of a wave in the coupling.
func (s *shooter) refraction(launch float64, at r3.Vec) (face, along float64) {
	face = tangent(s.part.Entry, at)
	return face, math.Cos(launch-face) / s.part.Coupling.Longitudinal
}

// enter returns the angles of the waves in the part that a wave causes where it comes to the part.
// In contact this is the wave itself, if it goes down. The argument near is the same as for
// transmitted.
func (s *shooter) enter(launch float64, at r3.Vec, room int, near float64) []float64 {
	medium := s.part.rooms[room]
	if s.part.Coupling != nil {
		face, along := s.refraction(launch, at)
		return s.transmitted(medium, at, face, along, near)
	}
	if !(s.leaving(medium, at, tangent(s.part.Entry, at), launch) > 0) {
		return nil
	}
	return []float64{launch}
}

// tangent returns the angle of a surface at one of its points. The far side lies a right angle
// further on.
func tangent(surface wedge.Surface, at r3.Vec) float64 {
	u, v := surface.Locate(at)
	normal := surface.At(u, v).Normal()
	return math.Atan2(normal.Z, normal.X) - math.Pi/2
}

// transmitted returns the angles of the waves in a medium with a given slowness along a face, in
// ascending order. Their energy goes to the side a right angle further on than the angle of the
// face. There may be no wave, one wave, or several waves if the curve is dented. If near is not
// NaN, transmitted returns only the wave that Newton's method finds from the angle near.
func (m *marcher) transmitted(medium Medium, at r3.Vec, face, along, near float64) []float64 {
	medium = local(medium, at)
	misfit := func(angle float64) float64 {
		return math.Cos(angle-face) - along*medium.Phase(m.pol, at, angle).Speed
	}
	if !math.IsNaN(near) {
		for range 40 {
			w := medium.Phase(m.pol, at, near)
			sin, cos := math.Sincos(near - face)
			step := (cos - along*w.Speed) / (sin + along*w.ByAngle)
			near += max(-0.1, min(0.1, step))
			if math.Abs(step) <= 1e-15 {
				break
			}
		}
		if !(math.Abs(misfit(near)) <= 1e-12 && m.leaving(medium, at, face, near) > 0) {
			return nil
		}
		return []float64{near}
	}
	out := roots(misfit, face-math.Pi/2, face+3*math.Pi/2, branches)
	out = slices.DeleteFunc(out,
		func(angle float64) bool { return !(m.leaving(medium, at, face, angle) > 0) })
	slices.Sort(out)
	return out
}

// leaving returns the component of the group velocity of a wave across a face. It is above 0 to the
// side a right angle further on than the angle of the face.
func (m *marcher) leaving(medium Medium, at r3.Vec, face, angle float64) float64 {
	w := medium.Phase(m.pol, at, angle)
	sin, cos := math.Sincos(angle - face)
	return w.Speed*sin + w.ByAngle*cos
}

// folds counts the turning points of the slowness along a face, as a function of the angle of the
// normal, that lie above the given slowness. If the count differs between two rays, rays between
// them may cause a wave that neither of the two causes.
func (m *marcher) folds(medium Medium, at r3.Vec, face, along float64) int {
	medium = local(medium, at)
	slowness := func(i int) float64 {
		angle := 2 * math.Pi * float64(i) / branches
		return math.Cos(angle) / medium.Phase(m.pol, at, face+angle).Speed
	}
	count := 0
	before, here := slowness(-1), slowness(0)
	for i := range branches {
		next := slowness(i + 1)
		if here > along && (here > before) != (next > here) {
			count++
		}
		before, here = here, next
	}
	return count
}

// crossing is the point at which a step of a wave leaves its room.
type crossing struct {
	share float64 // of the step
	exit  int     // number of the wall, or -1 if the wave ends there
	room  int     // that it comes into, or -1
	wall  *wall
}

// leaves reports whether a step from one state to another leaves its room, and returns the first
// crossing.
func (s *shooter) leaves(room int, from, to state, h float64) (crossing, bool) {
	first := crossing{share: 2}
	medium := s.part.rooms[room]
	for i := range s.part.walls[room] {
		w := &s.part.walls[room][i]
		end := w.side * w.surface.Depth(to.at(s.y))
		if end < -s.spacing/4 && !w.thin {
			continue // too far away to have crossed the wall within the step
		}
		beyond := func(share float64) float64 {
			return w.side * w.surface.Depth(s.advance(medium, from, share*h).at(s.y))
		}
		share, inside, ok := escape(beyond, end)
		if !ok && w.thin { // a thin void may lie within the step
			start := beyond(0)
			share, ok = dip(beyond, 0, 1, start, end, 1.1*math.Hypot(to.x-from.x, to.z-from.z))
			if inside = start < 0; ok && inside {
				share = rootOf(beyond, 0, share, start)
			}
		}
		// Where two walls lie in the same place, the first one counts, whatever the rounding.
		if !ok || share >= first.share-further/s.spacing {
			continue
		}
		first = crossing{share, w.exit, w.room, w}
		if !inside {
			first.exit = -1 // a wave along the face
		}
	}
	if first.exit >= 0 && first.share <= 1 && !first.wall.mirrors {
		at := s.advance(medium, from, first.share*h).at(s.y)
		first.room = s.part.behind(room, first.wall, at)
		if first.room < 0 {
			first.exit = -1
		}
	}
	return first, first.share <= 1
}

// escape returns the share of a step at which the function beyond rises above 0, and whether it was
// below 0 before. Its value at the end of the step is given.
func escape(beyond func(share float64) float64, end float64) (share float64, inside, ok bool) {
	start, last := beyond(0), 1.0
	if !(end > tolerance) {
		// A wave may go out and come back: test the top of a parabola.
		half := beyond(0.5)
		bend := start - 2*half + end
		last = (3*start - 4*half + end) / (4 * bend)
		if !(bend < 0 && last > 0 && last < 1 && beyond(last) > tolerance) {
			return 0, false, false
		}
	}
	// A wave that has just come through this face is inside only between the ends of the step.
	from := 0.0
	for k := last / 2; !(start < -tolerance/10) && k > 1e-3; k /= 2 {
		from, start = k, beyond(k)
	}
	if !(start < 0) {
		return 0, false, true
	}
	return rootOf(beyond, from, last, start), true, true
}

// along returns the angle of the wall to which a wave has come, with the next room on its far side,
// and the slowness of the wave along the wall.
func (s *shooter) along(c crossing, room int, from state) (face, along float64) {
	at := from.at(s.y)
	face = tangent(c.wall.surface, at)
	if (c.wall.side > 0) == c.wall.mirrors {
		face += math.Pi
	}
	return face, math.Cos(from.angle-face) / s.part.rooms[room].Phase(s.pol, at, from.angle).Speed
}

// follow samples the piece p from its start, and all pieces that follow from it, and adds them to
// the shot.
func (s *shooter) follow(out *shot, p piece) {
	end, last := s.sample(out, &p)
	if s.corners {
		p.corners = s.cornersOf(&p)
	}
	parent := len(out.pieces)
	full := len(p.path) >= 2*deepest || parent >= bushiest
	out.limited = out.limited || full && p.exit >= 0
	if p.exit < 0 || full {
		out.pieces = append(out.pieces, p)
		return
	}
	at, beyond := last.at(s.y), s.part.rooms[end.room]
	face, along := s.along(end, p.room, last)
	p.folds = s.folds(beyond, at, face, along)
	out.pieces = append(out.pieces, p)
	for k, angle := range s.transmitted(beyond, at, face, along, math.NaN()) {
		s.follow(out, piece{
			path: p.path + string([]byte{byte(end.room), byte(k)}), room: end.room, parent: parent,
			start: state{last.x, last.z, angle}, enter: p.leave,
		})
	}
}

// sample adds the samples of a piece from its start, until the wave leaves its room or cannot come
// back to the target in time. It returns the crossing and the state there if the wave leaves the
// room.
func (s *shooter) sample(out *shot, p *piece) (end crossing, last state) {
	medium := s.part.rooms[p.room]
	uniform, velocity := medium.Uniform(), s.rate(medium, p.start)
	advance := func(from state, h float64) state {
		if uniform {
			return from.plus(h, []float64{1}, &[7]state{velocity})
		}
		return s.advance(medium, from, h)
	}
	p.first = int(math.Floor(p.enter/s.step)) - 1
	before := advance(p.start, float64(p.first+1)*s.step-p.enter)
	p.samples = append(p.samples, advance(before, -s.step), before)
	p.leave, p.exit = math.Inf(1), -1
	now, time := p.start, p.enter
	test := 1 // the number of samples from which a straight ray is tested for return
	for time <= s.latest {
		h := float64(p.first+len(p.samples))*s.step - time
		next := advance(now, h)
		if !next.finite() {
			p.leave = time
			return end, last
		}
		c, left := s.leaves(p.room, now, next, h)
		if left {
			end, last = c, advance(now, c.share*h)
			p.leave, p.exit = time+c.share*h, c.exit
		}
		gone := left || s.region.away(next.at(s.y)) > 0
		if !gone && uniform && len(p.samples) >= test && s.recedes(now, next) {
			gone = s.free(p.room, next, velocity)
			test = 2 * len(p.samples)
		}
		p.samples = append(p.samples, next)
		now, time = next, time+h
		if gone {
			out.left = out.left || s.bounded && !left
			for range overhang - 1 {
				now = advance(now, s.step)
				p.samples = append(p.samples, now)
			}
			return end, last
		}
	}
	return end, last
}

// cornersOf returns the samples of a piece as corners.
func (s *shooter) cornersOf(p *piece) []corner {
	out := make([]corner, len(p.samples))
	uniform := s.part.rooms[p.room].Uniform()
	for i, at := range p.samples {
		time := s.step * float64(p.first+i)
		if i > 0 && uniform {
			out[i] = corner{at.x, at.z, time, out[0].slowX, out[0].slowZ}
			continue
		}
		out[i] = s.cornerAt(p.room, at, time)
	}
	return out
}

// recedes reports whether a straight step leads away from the target, and ends far from it.
func (s *shooter) recedes(from, to state) bool {
	away := s.target.away(to.at(s.y))
	return away > s.far && away > s.target.away(from.at(s.y))
}

// free reports whether a straight ray leaves the region before it meets a wall of its room. The
// depth of a place is its distance from the surface. So the ray can go on by the least depth without
// meeting a surface.
func (s *shooter) free(room int, from, velocity state) bool {
	const most = 100
	speed := math.Hypot(velocity.x, velocity.z)
	for range most {
		at := from.at(s.y)
		if s.region.away(at) > 0 {
			return true
		}
		clear := s.part.clearance(at, room)
		if !(clear > contactTolerance) {
			return false
		}
		from.x += clear * velocity.x / speed
		from.z += clear * velocity.z / speed
	}
	return false
}
