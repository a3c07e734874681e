// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// nearStep is the Newton step, as a share of the shortest leg ℓ, up to which a
// table takes the time to second order at the end of the step for the
// stationary time, and does not evaluate again. What that leaves out is below
// |step|³/(ℓ²·speed), 4e-15 s for the 10 mm legs of a wedge.
const nearStep = 1e-3

// tracer solves for one ray after another, each from its neighbour's.
type tracer struct {
	solver *Solver
	ray    Ray // scratch, for directions
	// trail holds the crossings of the rays that the next one may start from.
	trail struct {
		last, previous, row []float64 // parameters; row is that of the ray after the last jump
		lastAt              r3.Vec    // the end of the last ray
		step                r3.Vec    // lastAt less the end of the previous ray
		length              int       // how many rays since the last jump
		rows                int       // how many jumps
	}
}

func newTracer(p *Path) *tracer {
	w := &tracer{solver: NewSolver(p)}
	n := 2 * len(p.crossings)
	w.trail.last = make([]float64, n)
	w.trail.previous = make([]float64, n)
	w.trail.row = make([]float64, n)
	return w
}

// fill computes the part of the table from element e to the points, of which
// the first has the index first, and returns how many have no ray. A path can
// end at those points that ends tells.
func (w *tracer) fill(t *Times, e int, element r3.Vec, first int, points []r3.Vec, ends []bool) (missing int) {
	w.trail.length, w.trail.rows = 0, 0
	base := e*t.Points + first
	for i, q := range points {
		if !ends[i] {
			w.trail.length = 0
		}
		if !ends[i] || w.trace(element, q) != OK {
			missing++
			t.Seconds[base+i] = float32(math.NaN())
			if t.Departure != nil {
				nan := float32(math.NaN())
				t.Departure[base+i] = Direction{nan, nan, nan}
				t.Arrival[base+i] = Direction{nan, nan, nan}
			}
			continue
		}
		t.Seconds[base+i] = float32(w.solver.time)
		if t.Departure != nil {
			w.solver.settle()
			w.ray.reset(OK)
			w.ray.record(w.solver)
			t.Departure[base+i] = single(w.ray.Direction(0))
			t.Arrival[base+i] = single(w.ray.Direction(len(w.ray.Points) - 2))
		}
	}
	return missing
}

func single(d r3.Vec) Direction { return Direction{float32(d.X), float32(d.Y), float32(d.Z)} }

// trace solves for the ray from the element to q and remembers it.
func (w *tracer) trace(element, q r3.Vec) Status {
	s := w.solver
	s.aim(element, q)
	if s.crossings == 0 {
		s.evaluate()
		return OK
	}
	if !w.warm(q) {
		if status := s.search(); status != OK {
			w.trail.length = 0
			return status
		}
	}
	if status := s.checkSides(); status != OK {
		w.trail.length = 0
		return status
	}
	w.remember(q)
	return OK
}

// warm solves for the ray to q from those before, and reports whether it could.
func (w *tracer) warm(q r3.Vec) bool {
	s, trail := w.solver, &w.trail
	step := r3.Sub(q, trail.lastAt)
	jumped := trail.length == 0 || trail.length > 1 && r3.Norm2(step) > 16*r3.Norm2(trail.step)
	switch {
	case jumped && trail.rows == 0:
		return false
	case jumped:
		trail.length = 0
		copy(s.params, trail.row)
	case trail.length > 1 && r3.Norm2(r3.Sub(step, trail.step)) < 1e-12*r3.Norm2(step):
		for i := range s.params {
			s.params[i] = 2*trail.last[i] - trail.previous[i]
		}
	default:
		copy(s.params, trail.last)
	}
	trail.step = step
	s.evaluate()
	if s.system.solve() && s.system.stepSize() <= nearStep*s.shortest {
		copy(s.best, s.params)
		s.move(1)
		s.time += s.system.slope() / 2
		return true
	}
	return s.refine()
}

// remember makes the ray to q, just found, the one that the next starts from.
func (w *tracer) remember(q r3.Vec) {
	s, trail := w.solver, &w.trail
	trail.last, trail.previous = trail.previous, trail.last
	copy(trail.last, s.params)
	trail.lastAt = q
	trail.length++
	if trail.length == 1 {
		copy(trail.row, s.params)
		trail.rows++
	}
}
