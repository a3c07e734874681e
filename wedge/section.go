// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// section solves for rays in a section of constant y through planes, cylinders and profiles that
// are extruded along y. Most tables need only such rays. section does the same as the general
// solver, with one unknown per crossing, the arc length along the section, and without calls
// through an interface. The Hessian is tridiagonal. It is eliminated along the path.
// TestSectionAgainstSolver compares both solvers.
//
// Each ray starts from the ray to the neighbouring point. Where a few Newton steps do not lead to a
// ray, the general solver has to find one.
//
// Planes, cylinders and profiles have formulas of their own. Any other extruded surface works by the
// methods of [Surface].
type section struct {
	slowness []float64 // a leg, s/m
	stations []station // a crossing
	rows     []row     // the linear system of one Newton step, a row a crossing

	time     float64 // s
	shortest float64 // the shortest leg, m
	largest  float64 // the largest step of a crossing, m
	decrease float64 // decrease of the time by the step, to first order, s
	doubt    float64 // bound of the error of the time, s
	slowest  float64 // the largest slowness, s/m
	rough    float64 // bound of the third derivative of the time by the surfaces, s/m³ per slowness
	wrong    bool    // the ray is on the wrong side of a crossing, or goes through a corner

	// near and far are steps as shares of the shortest leg. No step follows a step below near. The
	// general solver takes over after a step above far.
	near, far float64
	// The next ray starts from trail, the stations and the rows.
	trail struct {
		length   int       // number of rays since the last jump
		last     point     // the end of the last ray
		first    point     // the end of the ray after the last jump
		stations []station // of the ray after the last jump
		rows     []row
	}
}

// station is a crossing in a section: a point of a curve, with the tangent and the curvature of the
// curve. Its normal, towards the far side, is (-tz, tx).
type station struct {
	x, z, tx, tz float64 // point (m) and unit tangent
	bend         float64 // curvature in 1/m, positive where the curve bends towards the normal
	kind         kind
	in, out      float64  // +1 if the ray arrives, leaves along the normal, -1 if against it
	u            float64  // the parameter of the point on a profile
	profile      *profile // nil unless kind is measured
	surface      Surface  // nil unless kind is general
	scale        float64  // change of u per length along the curve
	cx, cz       float64  // the centre of a circle, a point of a line
	radius       float64  // its radius in m, with the sign of bend
}

// kind is the kind of curve in which a surface meets the section.
type kind uint8

const (
	straight kind = iota
	circular
	measured
	general // any other extruded surface, by the methods of Surface
)

// row is one row of the linear system Hessian · step = -gradient. A leg couples only its two ends,
// so the Hessian has one diagonal on either side of the main diagonal.
type row struct {
	gradient float64 // after elimination of the rows above, s/m
	pivot    float64 // the diagonal after elimination, s/m²
	beside   float64 // the element right of the diagonal, s/m²
	step     float64 // m
	moved    float64 // move of the station since the last ray, m
	rate     float64 // move of the crossing between the last two rays, m
}

// point is a point of a section, in metres.
type point struct{ x, z float64 }

func (p point) minus(q point) point { return point{p.x - q.x, p.z - q.z} }

// direction returns the unit vector along p.
func (p point) direction() Direction {
	length := math.Sqrt(p.x*p.x + p.z*p.z)
	return Direction{X: float32(p.x / length), Z: float32(p.z / length)}
}

// flat returns the coordinates of p in its section.
func flat(p r3.Vec) point { return point{p.X, p.Z} }

// farStep is the largest Newton step, as a share of the shortest leg, that is trusted on a curve. A
// longer step could lead to another of several rays. Through planes the time is convex, so there is
// one ray.
const farStep = 0.5

// newSection returns the solver for the sections of p. It returns nil if p has no crossing, or has
// a crossing on a surface that is not extruded.
func newSection(p *Path) *section {
	m := len(p.crossings)
	if m == 0 {
		return nil
	}
	s := &section{rows: make([]row, m), near: nearStep, far: math.Inf(1)}
	s.trail.stations, s.trail.rows = make([]station, m), make([]row, m)
	for _, leg := range p.legs {
		s.slowness = append(s.slowness, 1/leg.Speed)
		s.slowest = max(s.slowest, 1/leg.Speed)
	}
	for _, c := range p.crossings {
		if !c.Surface.Extruded() {
			return nil
		}
		t := station{in: 1, out: 1}
		if c.From == Far {
			t.in = -1
		}
		if c.after() == Near {
			t.out = -1
		}
		switch surface := c.Surface.(type) {
		case *plane:
			t.kind = straight
			t.cx, t.cz = surface.origin.X, surface.origin.Z
			t.tx, t.tz = surface.u.X, surface.u.Z
		case *cylinder:
			t.kind = circular
			s.far = farStep
			t.cx, t.cz = surface.centre.X, surface.centre.Z
			t.radius = surface.sign * surface.radius
			t.bend = 1 / t.radius
			s.rough += 10 * t.bend * t.bend
		case *profile:
			t.kind = measured
			s.far = farStep
			t.profile = surface
			s.near = nearStep / 4 // the curvature of a profile varies along the step
			for i := range surface.final {
				s.rough = max(s.rough, 10*surface.bend[i]*surface.bend[i]+2*math.Abs(surface.dbend[i]))
			}
		default:
			t.kind = general
			s.far = farStep
			t.surface = surface
			s.near = nearStep / 100
			s.rough = max(s.rough, unknownBend)
		}
		s.stations = append(s.stations, t)
	}
	return s
}

// set puts the station at a point of its surface.
func (t *station) set(u float64, at *Patch) {
	t.x, t.z, t.u = at.P.X, at.P.Z, u
	t.scale = 1 / math.Hypot(at.U.X, at.U.Z)
	t.tx, t.tz = t.scale*at.U.X, t.scale*at.U.Z
	if t.kind >= measured {
		t.bend = (t.tx*at.UU.Z - t.tz*at.UU.X) * t.scale * t.scale
	}
}

// advance moves the station by a length along its curve: exactly on a line or a circle, to first
// order on a profile. The station stays on the curve.
func (t *station) advance(length float64) {
	if t.kind == straight {
		t.x += length * t.tx
		t.z += length * t.tz
		return
	}
	t.round(length)
}

// round is advance on a curve. It is a function of its own so that advance is inlined.
func (t *station) round(length float64) {
	if t.kind == circular {
		t.turn(length * t.bend)
		return
	}
	if t.kind == general {
		at := t.surface.At(t.u+length*t.scale, 0)
		t.set(t.u+length*t.scale, &at)
		return
	}
	t.u += length * t.tx
	z, dz, ddz := t.profile.curve(t.u)
	t.x, t.z = t.u, z
	t.tx = 1 / math.Sqrt(1+dz*dz)
	t.tz = dz * t.tx
	t.bend = ddz * t.tx * t.tx * t.tx
}

// turn moves the station on its circle by an angle, in radians. It keeps the tangent at unit
// length, so rounding errors do not add up.
func (t *station) turn(angle float64) {
	var sin, cos float64
	if a2 := angle * angle; a2 < 1e-4 {
		// The first neglected terms are below 3e-24 and 3e-21.
		sin = angle * (1 - a2*(1./6-a2*(1./120-a2*(1./5040))))
		cos = 1 - a2*(1./2-a2*(1./24-a2*(1./720)))
	} else {
		sin, cos = math.Sincos(angle)
	}
	// From U towards the normal N = (-tz, tx).
	tx, tz := cos*t.tx-sin*t.tz, cos*t.tz+sin*t.tx
	scale := 1.5 - 0.5*(tx*tx+tz*tz)
	t.tx, t.tz = scale*tx, scale*tz
	t.x = t.cx + t.radius*t.tz
	t.z = t.cz - t.radius*t.tx
}

// forget makes the next ray independent of all earlier rays.
func (s *section) forget() {
	s.trail.length = 0
	s.trail.stations = s.trail.stations[:0]
}

// follow solves for the ray to q from the rays before it, and reports whether it converged.
func (s *section) follow(from, q point, next stride) bool {
	trail := &s.trail
	rows := s.rows[:len(s.stations)]
	switch {
	case trail.length == 0 || trail.length > 1 && next == jump:
		if len(trail.stations) == 0 {
			return false
		}
		trail.length = 0
		copy(s.stations, trail.stations)
		copy(rows, trail.rows)
		s.predict(trail.first, q)
	case trail.length > 1 && next == same:
		for i := range rows {
			r := &rows[i]
			r.moved = r.rate
			s.stations[i].advance(r.step + r.rate)
		}
	default:
		s.predict(trail.last, q)
	}
	s.evaluate(from, q)
	for range 8 {
		if s.largest <= s.near*s.shortest {
			s.finish()
			return true
		}
		if !(s.largest <= s.far*s.shortest) {
			return false
		}
		for i := range rows {
			rows[i].moved += rows[i].step
			s.stations[i].advance(rows[i].step)
		}
		s.evaluate(from, q)
	}
	return false
}

// finish takes the time to second order, from the last evaluation to the end of the last step.
func (s *section) finish() {
	s.time -= s.decrease / 2
	cube := s.largest * s.largest * s.largest
	s.doubt = rounding*s.time + s.slowest*cube*(10/(s.shortest*s.shortest)+s.rough)
}

// improve takes the last step of the ray last found and one step more, and returns the time in s.
func (s *section) improve(from, q point) float64 {
	for i := range s.stations {
		s.stations[i].advance(s.rows[i].step)
	}
	s.evaluate(from, q)
	s.finish()
	return s.time
}

// predict moves the stations to first order as the end of the ray moves from one point to another.
func (s *section) predict(from, to point) {
	last := len(s.stations) - 1
	t := &s.stations[last]
	d, move := from.minus(s.crossing(last)), to.minus(from)
	length2 := d.x*d.x + d.z*d.z + cusp*cusp
	// The mixed derivative of the last leg with respect to the crossing and to the end.
	across := (d.x*t.tz - d.z*t.tx) * (d.x*move.z - d.z*move.x) / length2
	moved := s.slowness[last+1] / math.Sqrt(length2) * across / s.rows[last].pivot
	for k := last; k >= 0; k-- {
		r := &s.rows[k]
		if k < last {
			moved *= -r.beside / r.pivot
		}
		r.moved = moved
		s.stations[k].advance(r.step + moved)
	}
}

// adopt takes over the ray to q that the general solver found.
func (s *section) adopt(solver *solver, from, q point) {
	for i := range s.stations {
		s.stations[i].set(solver.params[2*i], &solver.patches[i])
		s.rows[i] = row{}
	}
	s.evaluate(from, q)
	for i := range s.rows {
		s.rows[i].step = 0 // it is 0 except for rounding errors
	}
	s.time, s.wrong = solver.time, false // the solver has checked the sides
}

// remember makes the ray just found, to q, the ray from which the next ray starts.
func (s *section) remember(q point) {
	trail := &s.trail
	for i := range s.rows {
		r := &s.rows[i]
		r.rate = r.moved + r.step
	}
	trail.last = q
	trail.length++
	if trail.length == 1 {
		trail.first = q
		trail.stations = append(trail.stations[:0], s.stations...)
		trail.rows = append(trail.rows[:0], s.rows...)
	}
}

// crossing returns the place where the ray last found crosses station i.
func (s *section) crossing(i int) point {
	t, step := &s.stations[i], s.rows[i].step
	return point{t.x + step*t.tx, t.z + step*t.tz}
}

// place returns the beginning of leg k of the ray last found. For k = number of legs it returns the
// end of the ray.
func (s *section) place(k int, element, q r3.Vec) r3.Vec {
	switch k {
	case 0:
		return element
	case len(s.stations) + 1:
		return q
	}
	c := s.crossing(k - 1)
	return r3.Vec{X: c.x, Y: q.Y, Z: c.z}
}

// slopes returns the derivatives of the time of the ray last found as its end q moves along a and
// along b.
//
// For fixed crossings, the second derivative of a leg for a move across it is its slowness divided
// by its length. The crossings follow the end. This subtracts the same term as the elimination
// subtracts from a diagonal element of the system.
func (s *section) slopes(q, a, b point) slopes {
	last := len(s.stations) - 1
	t, slow := &s.stations[last], s.slowness[last+1]
	d := q.minus(s.crossing(last))
	length := math.Sqrt(d.x*d.x + d.z*d.z + cusp*cusp)
	d.x, d.z = d.x/length, d.z/length
	across := d.x*t.tz - d.z*t.tx
	stiff := slow / length
	stiff -= stiff * across * stiff * across / s.rows[last].pivot
	return slopes{
		a:      slow * (d.x*a.x + d.z*a.z),
		b:      slow * (d.x*b.x + d.z*b.z),
		mixed:  stiff * (d.x*a.z - d.z*a.x) * (d.x*b.z - d.z*b.x),
		radius: slow / stiff,
	}
}

// evaluateOne is evaluate for a path of one crossing, the most frequent case. It is faster than the
// loop.
func (s *section) evaluateOne(from, to point) {
	t := &s.stations[0]
	s0, s1 := s.slowness[0], s.slowness[1]
	ax, az := t.x-from.x, t.z-from.z
	bx, bz := to.x-t.x, to.z-t.z
	a := math.Sqrt(ax*ax + az*az + cusp*cusp)
	b := math.Sqrt(bx*bx + bz*bz + cusp*cusp)
	perA, perB := 1/a, 1/b
	alongA, alongB := (ax*t.tx+az*t.tz)*perA, (bx*t.tx+bz*t.tz)*perB
	acrossA, acrossB := az*t.tx-ax*t.tz, bz*t.tx-bx*t.tz
	gradient := s0*alongA - s1*alongB
	pivot := s0*perA*(1-alongA*alongA+acrossA*t.bend) + s1*perB*(1-alongB*alongB-acrossB*t.bend)
	step := -gradient / pivot
	s.rows[0].pivot, s.rows[0].step = pivot, step
	s.time, s.shortest = s0*a+s1*b, min(a, b)
	s.decrease, s.largest = -gradient*step, math.Abs(step)
	s.wrong = acrossA*t.in < -tolerance || acrossB*t.out < -tolerance
}

// evaluate computes the time of the path from one point through the stations to another, and
// Newton's step. It eliminates along the path.
func (s *section) evaluate(from, to point) {
	stations := s.stations
	if len(stations) == 1 {
		s.evaluateOne(from, to)
		return
	}
	rows := s.rows[:len(stations)]
	slowness := s.slowness[1:][:len(stations)]

	// The first leg arrives at the first station.
	t := &stations[0]
	slow := s.slowness[0]
	dx, dz := t.x-from.x, t.z-from.z
	length := math.Sqrt(dx*dx + dz*dz + cusp*cusp)
	time, shortest, decrease := slow*length, length, 0.0
	inverse := 1 / length
	along, across := (dx*t.tx+dz*t.tz)*inverse, dz*t.tx-dx*t.tz
	wrong := across*t.in < -tolerance
	across *= inverse
	gradient := slow * along
	diagonal := slow * (inverse*(1-along*along) + across*t.bend)

	for k := range stations {
		t := &stations[k]
		next := to
		if k+1 < len(stations) {
			next = point{stations[k+1].x, stations[k+1].z}
		}
		slow = slowness[k]
		dx, dz = next.x-t.x, next.z-t.z
		length = math.Sqrt(dx*dx + dz*dz + cusp*cusp)
		time += slow * length
		shortest = min(shortest, length)
		inverse = 1 / length
		along, across = (dx*t.tx+dz*t.tz)*inverse, dz*t.tx-dx*t.tz
		wrong = wrong || across*t.out < -tolerance
		across *= inverse
		r := &rows[k]
		r.gradient = gradient - slow*along
		r.pivot = diagonal + slow*(inverse*(1-along*along)-across*t.bend)
		ratio := 1 / r.pivot
		decrease += r.gradient * r.gradient * ratio
		r.step = -r.gradient * ratio
		if k+1 == len(stations) {
			break
		}
		n := &stations[k+1]
		beyond := (dx*n.tx + dz*n.tz) * inverse
		across = dz*n.tx - dx*n.tz
		wrong = wrong || across*n.in < -tolerance || length < cornerLeg
		across *= inverse
		r.beside = -slow * inverse * (t.tx*n.tx + t.tz*n.tz - along*beyond)
		ratio *= r.beside
		gradient = slow*beyond - ratio*r.gradient
		diagonal = slow*(inverse*(1-beyond*beyond)+across*n.bend) - ratio*r.beside
	}
	largest := math.Abs(rows[len(rows)-1].step)
	for k := len(rows) - 2; k >= 0; k-- {
		rows[k].step -= rows[k].beside / rows[k].pivot * rows[k+1].step
		largest = max(largest, math.Abs(rows[k].step))
	}
	s.time, s.shortest, s.decrease, s.largest, s.wrong = time, shortest, decrease, largest, wrong
}
