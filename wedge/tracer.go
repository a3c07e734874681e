// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// nearStep is the largest Newton step, as a share of the shortest leg ℓ, after which a table does
// not evaluate the time again. It takes the stationary time to second order from the last
// evaluation. The error is below |step|³/(ℓ²·speed), which is 4e-15 s for the 10 mm legs of a
// wedge.
const nearStep = 1e-3

// rounding bounds the error of the time of a ray that is solved for until it does not improve, as
// a share of the time.
const rounding = 2e-15

// unknownBend bounds the third derivative of the time along a curved surface that has no bound of
// its own, besides the terms of the legs, as a share of the slowness, in 1/m². It holds for radii
// above 3 mm that change within some millimetres.
const unknownBend = 1e6

// tracer solves for one ray after another. Each ray starts from the ray to the neighbouring point.
type tracer struct {
	solver  *solver
	section *section // nil if the path has no known section
	ray     Ray      // scratch, for directions
	fan     *fan     // of the element; nil if at most one ray leads to any point
	seeker  *seeker  // nil until it is needed
	several bool     // whether other rays may lead to the end of the ray last found
	doubt   float64  // bound of the error of the time last found, s
	rough   float64  // bound of the third derivative of the time; see unknownBend
	// trail holds the crossings of the rays from which the next ray may start.
	trail struct {
		last, previous, row []float64 // parameters; row belongs to the ray after the last jump
		length              int       // number of rays since the last jump
		rows                int       // number of jumps
	}
}

func newTracer(p *Path) *tracer {
	w := &tracer{solver: newSolver(p), section: newSection(p)}
	for _, c := range p.crossings {
		if _, flat := c.Surface.(*plane); !flat {
			w.rough = unknownBend
		}
	}
	n := 2 * len(p.crossings)
	w.trail.last = make([]float64, n)
	w.trail.previous = make([]float64, n)
	w.trail.row = make([]float64, n)
	return w
}

// stride tells how a point follows the point before it.
type stride uint8

const (
	other   stride = iota
	same           // the same distance as before, along a row of a grid
	jump           // more than four times as far, for example to the next row
	outside        // no ray can end at the point
)

// strides returns the stride to each of the points.
func (p *Path) strides(points []r3.Vec) []stride {
	strides := make([]stride, len(points))
	var last, before r3.Vec
	for i, q := range points {
		step := r3.Sub(q, last)
		switch {
		case !p.endsAt(q):
			strides[i] = outside
		case i > 1 && r3.Norm2(step) > 16*r3.Norm2(before):
			strides[i] = jump
		case i > 1 && r3.Norm2(r3.Sub(step, before)) < 1e-12*r3.Norm2(step):
			strides[i] = same
		}
		last, before = q, step
	}
	return strides
}

// fill computes the part of the table from the elements to the points, and returns the number of
// pairs without a ray. The first element has the index e, the first point has the index first.
//
// Each element has a tracer. The tracers take turns: while a ray waits for the result of its
// neighbour, the processor works on the ray of another element.
func fill(
	t *Times, tracers []*tracer, all *fans, e int, elements []r3.Vec, first int, points []r3.Vec, strides []stride,
) (missing int) {
	for k := range elements {
		tracers[k].forget(all.of(e + k))
	}
	for i, q := range points {
		for k, element := range elements {
			w, at := tracers[k], (e+k)*t.Points+first+i
			time, status := 0.0, EndOutside
			if strides[i] != outside {
				time, status = w.first(element, q, strides[i])
			}
			if status == OK && w.undecided(time) {
				time = w.exactly(element, q, time)
			}
			if status != OK {
				w.lose()
				missing++
				t.set(at, math.NaN(), nowhere, nowhere)
				continue
			}
			if t.Departure == nil {
				t.Seconds[at] = float32(time)
				continue
			}
			departure, arrival := w.directions(element, q)
			t.set(at, time, departure, arrival)
		}
	}
	return missing
}

// first returns the time in s of the first ray from the element to q. Usually this is the ray that
// trace finds from the neighbour, and no other ray exists.
func (w *tracer) first(element, q r3.Vec, next stride) (time float64, status Status) {
	time, status = w.trace(element, q, next)
	w.several = false
	if w.fan == nil || element.Y != q.Y {
		return time, status
	}
	if w.fan.single && status != WrongSide && status != NotConverged {
		return time, status
	}
	if w.seeker == nil {
		w.seeker = newSeeker(w.solver)
	}
	k := w.seeker
	k.leads = w.fan.find(k.leads[:0], flat(q))
	if status == OK && len(k.leads) == 1 && k.leads[0].sure &&
		w.fan.holds(k.leads[0], w.section.crossing(0).minus(flat(element))) {
		return time, OK
	}
	w.several = len(k.leads) != 1 || !k.leads[0].sure
	if status = k.first(w.fan, element, q); status != OK {
		return 0, status
	}
	w.section.adopt(w.solver, flat(element), flat(q))
	w.lose()
	w.section.remember(flat(q))
	w.doubt = rounding * w.section.time
	return w.section.time, OK
}

// undecided reports whether a time within the doubt of the tracer may round to two float32 values.
func (w *tracer) undecided(time float64) bool {
	return float32(time-w.doubt) != float32(time+w.doubt)
}

// exactly returns a time that does not depend on the ray from which the search began. The time is
// given within the doubt of the tracer, which is not exact enough to round it to a float32.
func (w *tracer) exactly(element, q r3.Vec, time float64) float64 {
	if w.section != nil && element.Y == q.Y {
		time = w.section.improve(flat(element), flat(q))
		if w.doubt = w.section.doubt; !w.undecided(time) {
			return time
		}
	}
	s := w.solver
	same := func() bool { return math.Abs(s.time-time) <= 2*w.doubt }
	s.aim(element, q)
	if s.search() == OK && same() {
		return s.time
	}
	if w.fan != nil && element.Y == q.Y {
		if w.seeker == nil {
			w.seeker = newSeeker(w.solver)
		}
		w.seeker.leads = w.fan.find(w.seeker.leads[:0], flat(q))
		if w.seeker.first(w.fan, element, q) == OK && same() {
			return s.time
		}
	}
	return time
}

// trace solves for the ray from the element to q, returns its time in s, and remembers the ray.
func (w *tracer) trace(element, q r3.Vec, next stride) (time float64, status Status) {
	if w.section != nil && element.Y == q.Y {
		return w.traceSection(element, q, next)
	}
	s := w.solver
	s.aim(element, q)
	if s.crossings == 0 {
		s.evaluate()
		w.doubt = rounding * s.time
		return s.time, s.checkWalls()
	}
	// The ray of a neighbour can lead to a ray that comes to a surface from the wrong side,
	// although there is also a ray from the right side.
	if !w.warm(next) || s.checkSides() != OK {
		if status := s.search(); status != OK {
			return 0, status
		}
		w.doubt = rounding * s.time
	}
	if status := s.checkWalls(); status != OK {
		return 0, status
	}
	w.remember()
	return s.time, OK
}

// traceSection is trace for a ray in a section.
func (w *tracer) traceSection(element, q r3.Vec, next stride) (time float64, status Status) {
	s := w.section
	if !s.follow(flat(element), flat(q), next) || s.wrong {
		w.solver.aim(element, q)
		if status := w.solver.search(); status != OK {
			return 0, status
		}
		s.adopt(w.solver, flat(element), flat(q))
		s.doubt = rounding * s.time
	}
	w.doubt = s.doubt
	s.remember(flat(q))
	return s.time, w.checkSection(element, q)
}

// checkSection returns the status of a ray in a section, whose sides at the crossings are already
// checked.
func (w *tracer) checkSection(element, q r3.Vec) Status {
	p := w.solver.path
	place := func(k int) r3.Vec { return w.section.place(k, element, q) }
	if p.gaps != nil || p.sides != nil {
		if status := p.checkGaps(place); status != OK {
			return status
		}
	}
	for i := range p.walls {
		wall := &p.walls[i]
		if wall.blocks(place(wall.leg), place(wall.leg+1)) {
			return Obstructed
		}
	}
	if p.voids != nil && p.passesVoid(place) {
		return Obstructed
	}
	return OK
}

// span returns the corners of the rectangle around the part of the last ray that lies in the part.
func (w *tracer) span(element, q r3.Vec) (low, high point) {
	low, high = flat(q), flat(q)
	for k := w.solver.path.inPart; k <= w.solver.crossings; k++ {
		p := flat(w.solver.points[k])
		if w.section != nil && element.Y == q.Y {
			p = flat(w.section.place(k, element, q))
		}
		low = point{min(low.x, p.x), min(low.z, p.z)}
		high = point{max(high.x, p.x), max(high.z, p.z)}
	}
	return low, high
}

// forget makes the next ray independent of all rays before it.
func (w *tracer) forget(f *fan) {
	w.fan = f
	w.trail.length, w.trail.rows = 0, 0
	if w.section != nil {
		w.section.forget()
	}
}

// lose makes the next ray start from the first ray of its row, because there was no ray just before
// it.
func (w *tracer) lose() {
	w.trail.length = 0
	if w.section != nil {
		w.section.trail.length = 0
	}
}

// warm solves for the ray from the rays before it, and reports whether it converged.
func (w *tracer) warm(next stride) bool {
	s, trail := w.solver, &w.trail
	jumped := trail.length == 0 || trail.length > 1 && next == jump
	switch {
	case jumped && trail.rows == 0:
		return false
	case jumped:
		trail.length = 0
		copy(s.params, trail.row)
	case trail.length > 1 && next == same:
		for i := range s.params {
			s.params[i] = 2*trail.last[i] - trail.previous[i]
		}
	default:
		copy(s.params, trail.last)
	}
	s.evaluate()
	if s.system.solve() && s.system.stepSize() <= nearStep*s.shortest {
		copy(s.best, s.params)
		s.move(1)
		s.time += s.system.slope() / 2
		s.settle()
		step := s.system.stepSize()
		w.doubt = rounding*s.time + s.maxSlow*step*step*step*(10/(s.shortest*s.shortest)+w.rough)
		return true
	}
	found := s.refine()
	w.doubt = rounding * s.time
	return found
}

// remember makes the ray just found the ray from which the next ray starts.
func (w *tracer) remember() {
	s, trail := w.solver, &w.trail
	trail.last, trail.previous = trail.previous, trail.last
	copy(trail.last, s.params)
	trail.length++
	if trail.length == 1 {
		copy(trail.row, s.params)
		trail.rows++
	}
}

// directions returns the unit vectors along which the ray last found leaves the element and arrives
// at the point.
func (w *tracer) directions(element, q r3.Vec) (departure, arrival Direction) {
	if s := w.section; s != nil && element.Y == q.Y {
		first, last := s.crossing(0), s.crossing(len(s.stations)-1)
		return first.minus(flat(element)).direction(), flat(q).minus(last).direction()
	}
	w.ray.reset(OK)
	w.ray.record(w.solver)
	return single(w.ray.Direction(0)), single(w.ray.Direction(len(w.ray.Points) - 2))
}

// slopes returns the derivatives of the time of the ray last found as its end q moves along a and
// along b. If the ray lies in a section, a and b must lie in it too.
func (w *tracer) slopes(element, q, a, b r3.Vec) slopes {
	if w.section != nil && element.Y == q.Y {
		return w.section.slopes(flat(q), flat(a), flat(b))
	}
	return w.solver.slopes(a, b)
}

func single(d r3.Vec) Direction { return Direction{float32(d.X), float32(d.Y), float32(d.Z)} }
