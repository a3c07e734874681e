// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

const (
	// maxIterations is the largest number of Newton steps of one attempt. A well-posed ray takes 3
	// to 6 steps. A ray that ends within micrometres of a surface takes up to 40.
	maxIterations = 100
	// residualTolerance is the largest mismatch of the tangential slowness at a crossing that
	// fulfils Snell's law. It is a share of the slowness of the slowest leg, and a hundred times
	// the rounding error of a direction.
	residualTolerance = 2e-14
	// stepTolerance is the relative step below which parameters cannot improve. Where a leg has
	// almost no length, the residual cannot reach residualTolerance.
	stepTolerance = 4e-16
	// cusp enters the length of a leg, √(d² + cusp²), so that a ray that ends on a surface has
	// derivatives. It lengthens a leg of 1 mm by 5e-16 m.
	cusp = 1e-9
)

// solver finds rays along one path. It holds the scratch memory of a solution, so it is not safe
// for concurrent use.
//
// The general solver looks for a stationary time over the parameters of all crossings by Newton
// steps, in space, for any surface. A step is shortened until the gradient of the time shrinks. The
// solver of sections (section.go) and the solver of parallel planes (layered.go) are faster for
// their surfaces. TestSectionAgainstSolver and TestLayeredAgainstSolver compare them with this
// solver. A path through a corner of two surfaces, or through an apex, has the status
// [NotConverged].
type solver struct {
	path     *Path
	maxSlow  float64   // slowness of the slowest leg, s/m
	slowness []float64 // of each leg, s/m

	crossings int       // crossings of the path
	unknowns  int       // parameters solved for at each crossing: 1 in a section, else 2
	params    []float64 // u and v of each crossing
	best      []float64 // the parameters from which a step starts
	points    []r3.Vec  // start, crossings, end
	patches   []Patch
	system    system
	time      float64
	shortest  float64 // length of the shortest leg, m
	span      float64 // length of all legs together, m
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

// Solve writes the ray from one point to another to dst, and reuses the slices of dst.
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

// aim sets the ends of the ray. If every surface is extruded, a ray between two points of one
// section of constant y stays in the section, and has one unknown per crossing.
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

// search solves for the crossings from several guesses. It stops at the first stationary time whose
// path comes to every surface from the right side.
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

// guess sets the crossings near the straight line if share < 0. Otherwise it sets them near the
// point at this share of the line from the start to the end.
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
	// Each crossing in turn divides the line between its neighbours in the ratio of their distances
	// from the surface. This gives the straight line through a plane, and the law of reflection
	// off a plane.
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

// place sets crossing i to the point of its surface that is nearest to p.
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

// refine improves the crossings from s.params by Newton's method on the gradient of the time, and
// reports whether it converged. The gradient is zero for a ray, by Fermat's principle. A step is
// shortened until the gradient shrinks, so the iteration cannot diverge. It finds minima and saddle
// points.
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
				// No shorter step helps. The gradient has reached its rounding error, or
				// the step does not lead to a stationary point.
				copy(s.params, s.best)
				s.evaluate()
				return s.system.residual() <= 1e3*residualTolerance*s.maxSlow
			}
		}
	}
	return false
}

// move sets the parameters to the best parameters plus a share of the Newton step.
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

// evaluate computes the time of the path through the current crossings, and the gradient and the
// Hessian of the time with respect to the parameters of the crossings.
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

// slopes are derivatives of the time of a ray as its end moves along two vectors a and b.
type slopes struct {
	a, b, mixed float64 // with respect to a, to b and to both, s
	// radius is the radius of the wavefront in a section, in m, negative where the wave converges.
	// Outside a section it is the length of the last leg, which is smaller unless a surface has
	// focused the wave.
	radius float64
}

// slopes returns the derivatives of the time of the ray last found. The crossings follow the end.
// So, by the implicit function theorem, the mixed derivative is T_ab - T_au·H⁻¹·T_ub with the
// Hessian H of the crossings u.
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
	s.system.solve() // the shift of the crossings
	for i := range s.unknowns {
		result.mixed -= coupling(tangents[i], b) * s.system.step[n-s.unknowns+i]
	}
	return result
}

// checkWalls returns the status of the ray with respect to gaps, sides, the contact length, walls
// and voids.
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

// cornerLeg is the length in m below which a leg between two crossings shows that the crossings lie
// where two surfaces meet. The time can be least there without Snell's law.
const cornerLeg = 100 * cusp

// leastNormal is the length of U × V below which a surface has no valid parameters at a crossing,
// as at the apex of a cone. The time is stationary in the parameters there for any path.
const leastNormal = 1e-6

// checkSides reports whether the ray arrives at each crossing from the side that the path states,
// and leaves to the side that the path states. A path through a corner, where two surfaces meet, or
// through an apex is no ray.
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
		// A ray that arrives from the near side runs along the normal. A ray that leaves to the
		// near side runs against the normal.
		if in < -tolerance || out > tolerance {
			return WrongSide
		}
	}
	return OK
}
