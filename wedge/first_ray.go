// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// seeker solves for the rays at the leads of a fan.
type seeker struct {
	solver  *solver
	section *section // nil for a path without crossings
	shooter *shooter
	leads   []lead
	best    []float64 // the parameters of the first ray so far
}

func newSeeker(s *solver) *seeker {
	k := &seeker{solver: s, section: newSection(s.path), best: make([]float64, len(s.params))}
	if k.section != nil {
		k.shooter = newShooter(newSection(s.path), point{}, math.Inf(1))
	}
	return k
}

// first solves for the first of the rays to q at the leads, and leaves it in the solver. Without
// such a ray it solves for the ray to which the search leads from the straight line.
func (k *seeker) first(f *fan, from, q r3.Vec) Status {
	s := k.solver
	least := math.Inf(1)
	for _, l := range k.leads {
		if k.solve(f, l, from, q) == OK && s.time < least {
			least = s.time
			copy(k.best, s.params)
		}
	}
	s.aim(from, q)
	if least < math.Inf(1) {
		copy(s.params, k.best)
		s.evaluate()
		return OK
	}
	if status := s.search(); status != OK {
		return status
	}
	return s.checkWalls()
}

// solve solves for the ray at a lead, and returns its status.
func (k *seeker) solve(f *fan, l lead, from, q r3.Vec) Status {
	s := k.solver
	s.aim(from, q)
	k.start(func(i int) point { return f.near(l, i) })
	found := s.refine()
	if l.sure && (!found || !f.holds(l, flat(r3.Sub(s.points[1], from)))) {
		k.narrow(f, l, from, q)
		k.start(func(i int) point { return k.shooter.crossings[i] })
		found = s.refine()
	}
	if !found {
		return NotConverged
	}
	if status := s.checkSides(); status != OK {
		return status
	}
	return s.checkWalls()
}

// start puts the crossings of the solver near the given places.
func (k *seeker) start(at func(crossing int) point) {
	s := k.solver
	for i := range s.crossings {
		p := at(i)
		s.place(i, r3.Vec{X: p.x, Y: s.points[0].Y, Z: p.z})
	}
}

// narrow shoots a ray between the neighbours at a lead that passes q as near as rounding allows.
func (k *seeker) narrow(f *fan, l lead, from, q r3.Vec) {
	k.shooter.from = flat(from)
	side := func(a *shot) bool {
		e := flat(q).minus(a.at)
		return a.d.x*e.z-a.d.z*e.x < 0
	}
	a, b := f.shots[l.shot], f.shots[l.shot+1]
	for range 45 {
		middle := k.shooter.shoot((a.angle + b.angle) / 2)
		if !middle.leaves {
			break
		}
		if side(&middle) == side(&a) {
			a = middle
		} else {
			b = middle
		}
	}
	k.shooter.shoot(b.angle)
}
