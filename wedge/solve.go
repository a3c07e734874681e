// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

const (
	// maxIterations bounds the Newton steps of one attempt. A well-posed ray takes
	// 3 to 6, one that ends within micrometres of a surface up to 40.
	maxIterations = 100
	// residualTolerance is the largest mismatch of the tangential slowness at a
	// crossing, as a share of the slowness of the slowest leg, that counts as
	// Snell's law fulfilled: a hundred times the rounding of a direction.
	residualTolerance = 2e-14
	// stepTolerance is the relative step below which parameters cannot improve:
	// where a leg is nearly of no length the residual cannot reach its tolerance.
	stepTolerance = 4e-16
	// cusp rounds off the length of a leg, √(d² + cusp²), so that a ray which
	// ends on a surface has derivatives. It lengthens a leg of 1 mm by 5e-16 m.
	cusp = 1e-9
)

// solver finds rays along one path. It holds the scratch of a solution, so it
// is not safe for concurrent use; make one for each goroutine.
type solver struct {
	path     *Path
	maxSlow  float64   // slowness of the slowest leg, s/m
	slowness []float64 // a leg, s/m

	crossings int       // crossings of the path
	unknowns  int       // parameters solved for at each crossing: 1 in a section, else 2
	params    []float64 // u and v of each crossing
	best      []float64 // the parameters that a step starts from
	points    []r3.Vec  // start, crossings, end
	patches   []Patch
	system    system
	time      float64
	shortest  float64 // the shortest leg, m
	span      float64 // all legs together, m
}

// newSolver returns a solver for the rays along p.
func newSolver(p *Path) *solver {
	m := len(p.crossings)
	s := &solver{
		path:      p,
		crossings: m,
		slowness:  make([]float64, m+1),
		params:    make([]float64, 2*m),
		best:      make([]float64, 2*m),
		points:    make([]r3.Vec, m+2),
		patches:   make([]Patch, m),
		system:    newSystem(2 * m),
	}
	for i, leg := range p.legs {
		s.slowness[i] = 1 / leg.Speed
		s.maxSlow = max(s.maxSlow, s.slowness[i])
	}
	return s
}

// Solve finds the ray from one point to another and writes it to dst, whose
// slices are used again. If its Status is not [OK], the ray has no time (NaN)
// and no points.
//
// Where several paths are stationary, as under a concave surface, the one
// reached from the straight line is returned. Times are right to rounding; for ends
// within a micrometre of a surface, to 1e-7 of themselves.
func (s *solver) Solve(dst *Ray, from, to r3.Vec) {
	status := OK
	switch {
	case !s.path.startsAt(from):
		status = StartOutside
	case !s.path.endsAt(to):
		status = EndOutside
	default:
		s.aim(from, to)
		status = s.search()
	}
	if status == OK {
		status = s.checkWalls()
	}
	dst.reset(status)
	if status == OK {
		dst.record(s)
	}
}

// aim sets the ends of the ray. Rays of one section of constant y stay in it if
// every surface does, and then have one unknown a crossing.
func (s *solver) aim(from, to r3.Vec) {
	s.points[0], s.points[s.crossings+1] = from, to
	s.unknowns = 2
	if from.Y == to.Y && s.path.extruded() {
		s.unknowns = 1
		for i := range s.crossings {
			s.params[2*i+1] = from.Y
		}
	}
}

// search solves for the crossings from several guesses until one leads to a
// stationary time by a path that comes to every surface from the right side.
func (s *solver) search() Status {
	status := NotConverged
	for _, share := range [...]float64{-1, 0, 1, 0.5, 0.25, 0.75} {
		s.guess(share)
		if !s.refine() {
			continue
		}
		if status = s.checkSides(); status == OK {
			return OK
		}
	}
	return status
}

// guess sets the crossings near the straight line (share < 0), or near the
// point at that share of the line from start to end.
func (s *solver) guess(share float64) {
	m := s.crossings
	from, to := s.points[0], s.points[m+1]
	for i := range m {
		along := float64(i+1) / float64(m+1)
		if share >= 0 {
			along = share
		}
		s.place(i, between(from, to, along))
	}
	if share >= 0 {
		return
	}
	// Each crossing in turn divides the line between its neighbours in the ratio
	// of their distances from the surface: the straight line through a plane, the
	// mirror's law off one.
	for range 3 {
		for i, c := range s.path.crossings {
			before, after := s.points[i], s.points[i+2]
			d0, d1 := math.Abs(c.Surface.Depth(before)), math.Abs(c.Surface.Depth(after))
			if d0+d1 > 0 {
				s.place(i, between(before, after, d0/(d0+d1)))
			}
		}
	}
}

// place sets crossing i to the point of its surface nearest p.
func (s *solver) place(i int, p r3.Vec) {
	surface := s.path.crossings[i].Surface
	u, v := surface.Locate(p)
	s.params[2*i] = u
	if s.unknowns == 2 {
		s.params[2*i+1] = v
	}
	s.points[i+1] = surface.At(s.params[2*i], s.params[2*i+1]).P
}

// between returns the point at a share of the line from a to b.
func between(a, b r3.Vec, share float64) r3.Vec {
	return r3.Add(a, r3.Scale(share, r3.Sub(b, a)))
}

// refine improves the crossings from s.params by Newton's method on the
// gradient of the time (Fermat: the gradient of a ray is zero), and reports
// whether it got there. A step is shortened until the gradient shrinks, so the
// iteration cannot wander off; it finds minima and saddle points alike.
func (s *solver) refine() bool {
	s.evaluate()
	for range maxIterations {
		residual := s.system.residual()
		if math.IsNaN(residual) {
			return false
		}
		if residual <= residualTolerance*s.maxSlow {
			return true
		}
		if !s.system.solve() {
			return false
		}
		size := s.system.stepSize()
		if size <= stepTolerance*s.span {
			return true
		}
		scale := min(1, s.span/size)
		merit := s.system.merit()
		copy(s.best, s.params)
		for {
			s.move(scale)
			s.evaluate()
			if s.system.merit() < merit*(1-1e-4*scale) {
				break
			}
			scale /= 2
			if scale*size <= stepTolerance*s.span {
				// No shorter step helps: the gradient is down to its rounding, or
				// this is no way to a stationary point.
				copy(s.params, s.best)
				s.evaluate()
				return s.system.residual() <= 1e3*residualTolerance*s.maxSlow
			}
		}
	}
	return false
}

// move sets the parameters a share of the Newton step from the best ones.
func (s *solver) move(scale float64) {
	if s.unknowns == 1 {
		for i := range s.crossings {
			s.params[2*i] = s.best[2*i] + scale*s.system.step[i]
		}
		return
	}
	for i := range s.params {
		s.params[i] = s.best[i] + scale*s.system.step[i]
	}
}

// settle moves the crossings to the current parameters.
func (s *solver) settle() {
	for i := range s.crossings {
		s.patches[i] = s.path.crossings[i].Surface.At(s.params[2*i], s.params[2*i+1])
		s.points[i+1] = s.patches[i].P
	}
}

// evaluate computes the time of the path through the current crossings, and its
// gradient and Hessian with respect to their parameters.
func (s *solver) evaluate() {
	m := s.crossings
	s.settle()
	s.system.clear(m, s.unknowns)
	s.time, s.span, s.shortest = 0, 0, math.Inf(1)
	for k := range m + 1 {
		d := r3.Sub(s.points[k+1], s.points[k])
		length := math.Sqrt(d.X*d.X + d.Y*d.Y + d.Z*d.Z + cusp*cusp)
		d = r3.Scale(1/length, d)
		slow := s.slowness[k]
		s.time += slow * length
		s.span += length
		s.shortest = min(s.shortest, length)
		if k < m {
			s.system.addEnd(k, s.unknowns, slow, length, d, &s.patches[k])
		}
		if k > 0 {
			s.system.addEnd(k-1, s.unknowns, -slow, -length, d, &s.patches[k-1])
		}
		if k > 0 && k < m {
			s.system.addCoupling(k-1, s.unknowns, slow/length, d, &s.patches[k-1], &s.patches[k])
		}
	}
}

// slopes are derivatives of the time of a ray as its end moves along two vectors,
// a and b.
type slopes struct {
	a, b, mixed float64 // along a, along b, along both, s
	// radius is that of the wavefront in a section, in m, negative where it
	// converges; out of one the length of
	// the last leg, which is less where no surface has focused the wave.
	radius float64
}

// slopes returns the derivatives of the time of the ray last found. For the mixed
// one the crossings follow: by the implicit function theorem it is
// T_ab - T_au·H⁻¹·T_ub with the Hessian H of the crossings.
func (s *solver) slopes(a, b r3.Vec) slopes {
	m := s.crossings
	s.evaluate()
	d := r3.Sub(s.points[m+1], s.points[m])
	length := math.Sqrt(r3.Norm2(d) + cusp*cusp)
	d = r3.Scale(1/length, d)
	slow := s.slowness[m]
	stiff := slow / length
	coupling := func(p, q r3.Vec) float64 { return stiff * (r3.Dot(p, q) - r3.Dot(d, p)*r3.Dot(d, q)) }
	result := slopes{a: slow * r3.Dot(d, a), b: slow * r3.Dot(d, b), mixed: coupling(a, b), radius: length}
	if m == 0 {
		return result
	}
	tangents := [2]r3.Vec{s.patches[m-1].U, s.patches[m-1].V}
	n := s.system.n
	clear(s.system.gradient[:n])
	for i := range s.unknowns {
		s.system.gradient[n-s.unknowns+i] = -coupling(tangents[i], a)
	}
	s.system.solve() // the move of the crossings
	for i := range s.unknowns {
		result.mixed -= coupling(tangents[i], b) * s.system.step[n-s.unknowns+i]
	}
	return result
}

// checkWalls reports whether the ray meets every surface where there is one, and
// enters the part within the contact length, whether no leg leaves its medium and comes
// back, and none passes through a void.
func (s *solver) checkWalls() Status {
	place := func(k int) r3.Vec { return s.points[k] }
	if status := s.path.checkGaps(place); status != OK {
		return status
	}
	for i := range s.path.walls {
		w := &s.path.walls[i]
		if w.blocks(s.points[w.leg], s.points[w.leg+1]) {
			return Obstructed
		}
	}
	if s.path.voids != nil && s.path.passesVoid(place) {
		return Obstructed
	}
	return OK
}

// cornerLeg is the length in m of a leg between two crossings below which these lie
// where two surfaces meet. The time can be least there, but not by Snell's law.
const cornerLeg = 100 * cusp

// leastNormal is the length of U × V below which a crossing lies where its
// surface has no parameters, as the apex of a cone: the time is stationary in
// them there whatever the ray does.
const leastNormal = 1e-6

// checkSides reports whether the ray arrives at each crossing from the side
// that the path asks for, and leaves to the side that it asks for. A path through
// a corner, where two surfaces meet, or through an apex is no ray.
func (s *solver) checkSides() Status {
	for i, c := range s.path.crossings {
		if i > 0 && !(r3.Norm(r3.Sub(s.points[i+1], s.points[i])) > cornerLeg) {
			return NotConverged
		}
		normal := r3.Cross(s.patches[i].U, s.patches[i].V)
		if !(r3.Norm(normal) > leastNormal) {
			return NotConverged
		}
		in := r3.Dot(normal, r3.Sub(s.points[i+1], s.points[i]))
		out := r3.Dot(normal, r3.Sub(s.points[i+2], s.points[i+1]))
		if c.From == Far {
			in = -in
		}
		if c.after() == Far {
			out = -out
		}
		// Upon arrival from the near side the ray runs along the normal; when it
		// leaves to the near side, against it.
		if in < -tolerance || out > tolerance {
			return WrongSide
		}
	}
	return OK
}
