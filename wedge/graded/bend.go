// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// bender moves the knots of a path of a qL or SH ray until the time is least. Only one goroutine
// may use it. [bender.layout] lays out the path.
type bender struct {
	part     *Part
	pol      Polarisation
	coupling Medium // nil in contact

	knots    []knot
	segments []segment
	guess    []r3.Vec
	best     []r3.Vec
	line     []r3.Vec
	marks    []mark

	time     float64
	gradient []float64 // of the time, by the motion of each knot
	diagonal []float64 // of the second derivatives
	beside   []float64 // element k couples knots k and k+1
	pivot    []float64
	step     []float64
	trial    []r3.Vec
}

// newBender returns a bender for the rays of one polarisation.
func newBender(p *Part, pol Polarisation) *bender {
	b := &bender{part: p, pol: pol}
	if p.Coupling != nil {
		b.coupling = p.lead()
	}
	return b
}

const (
	bendSteps = 60 // the most Newton steps; 3 to 6 are usual
	// settled is the relative fall of the time in the last step. By quadratic convergence one more
	// step would lower the time by less than rounding.
	settled = 1e-10
	// unclear is the relative fall of the time that rounding may hide. If the fall is smaller, a
	// step may raise the time by the share rounding.
	unclear  = 1e-12
	rounding = 1e-14
)

// bend moves the knots to the nearest minimum of the time, by Newton's method with damping, and
// reports whether it succeeded. The time is then the time of the polyline through the knots.
func (b *bender) bend() bool {
	damping := 0.0
	for range bendSteps {
		b.expand()
		if math.IsNaN(b.time) {
			return false
		}
		least := b.scale() * 1e-3
		if !b.solve(damping) {
			damping = max(least, 10*damping)
			continue
		}
		var decrease float64
		for k, g := range b.gradient {
			decrease -= g * b.step[k] / 2
		}
		if decrease <= settled*b.time && damping == 0 {
			b.time = b.timeAt(1)
			b.move(1)
			return !math.IsNaN(b.time)
		}
		if b.search(decrease) {
			if damping /= 10; damping < least {
				damping = 0
			}
		} else {
			damping = max(least, 10*damping)
		}
	}
	return false
}

// scale returns the largest second derivative.
func (b *bender) scale() float64 {
	var most float64
	for k := range b.knots {
		if !b.knots[k].fixed() {
			most = max(most, math.Abs(b.diagonal[k]))
		}
	}
	return most
}

// search takes the step, or a part of the step that lowers the time. It reports whether there is
// such a part.
func (b *bender) search(decrease float64) bool {
	for share := 1.0; share > 1e-3; share /= 2 {
		t := b.timeAt(share)
		if t <= b.time-1e-4*share*decrease || decrease <= unclear*b.time &&
			t <= b.time*(1+rounding) {
			b.move(share)
			return true
		}
	}
	return false
}

// timeAt returns the time with the knots moved by a share of the step.
func (b *bender) timeAt(share float64) float64 {
	b.trial = b.trial[:0]
	for k := range b.knots {
		at, _ := b.knots[k].moved(share * b.step[k])
		b.trial = append(b.trial, at)
	}
	var sum float64
	for i := range b.segments {
		from, to := b.trial[i], b.trial[i+1]
		sum += b.segments[i].medium.Travel(b.pol, middle(from, to), r3.Sub(to, from)).Time
	}
	return sum
}

// move moves the knots by a share of the step.
func (b *bender) move(share float64) {
	for k := range b.knots {
		n := &b.knots[k]
		s := share * b.step[k]
		n.at, _ = n.moved(s)
		n.u += s
	}
}

// differing is the motion of a knot, as a share of a segment, for the differences that give second
// derivatives.
const differing = 1e-6

// expand computes the time with its derivatives. First derivatives are exact. Second derivatives
// are differences of first derivatives, which are good enough for Newton's method.
func (b *bender) expand() {
	n := len(b.knots)
	b.gradient, b.diagonal = zeroed(b.gradient, n), zeroed(b.diagonal, n)
	b.beside, b.step, b.pivot = zeroed(b.beside, n), zeroed(b.step, n), zeroed(b.pivot, n)
	b.time = 0
	for i := range b.segments {
		from, to := &b.knots[i], &b.knots[i+1]
		s := &b.segments[i]
		here, there := from.place(0), to.place(0)
		t := s.medium.Travel(b.pol, middle(here.at, there.at), r3.Sub(there.at, here.at))
		byFrom, byTo := slopes(t, here, there)
		b.time += t.Time
		b.gradient[i] += byFrom
		b.gradient[i+1] += byTo
		small := differing * distance(here.at, there.at)
		var mixed, counted float64
		if !from.fixed() {
			f, t := b.slopes(s, from.place(small), there)
			b.diagonal[i] += (f - byFrom) / small
			mixed += (t - byTo) / small
			counted++
		}
		if !to.fixed() {
			f, t := b.slopes(s, here, to.place(small))
			b.diagonal[i+1] += (t - byTo) / small
			mixed += (f - byFrom) / small
			counted++
		}
		if counted == 2 {
			b.beside[i] = mixed / 2
		}
	}
}

// place is a point of a knot's line with the direction of the line.
type place struct{ at, tangent r3.Vec }

// place returns the place of k moved by s.
func (k *knot) place(s float64) place {
	at, tangent := k.moved(s)
	return place{at, tangent}
}

// slopes returns the derivatives of the time over a segment between two places by the motion of
// each place.
func (b *bender) slopes(s *segment, from, to place) (byFrom, byTo float64) {
	t := s.medium.Travel(b.pol, middle(from.at, to.at), r3.Sub(to.at, from.at))
	return slopes(t, from, to)
}

// slopes returns the derivatives by the motion of both places from the time over the segment.
func slopes(t Travel, from, to place) (byFrom, byTo float64) {
	half := r3.Scale(0.5, t.Place)
	return r3.Dot(from.tangent, r3.Sub(half, t.Slowness)), r3.Dot(to.tangent,
		r3.Add(half, t.Slowness))
}

// solve computes Newton's step by elimination. It reports whether the matrix of second derivatives,
// with the damping added, is positive definite.
func (b *bender) solve(damping float64) bool {
	last := len(b.knots) - 1
	for k := range b.knots {
		if b.knots[k].fixed() {
			b.pivot[k], b.step[k] = 1, 0
			continue
		}
		b.pivot[k], b.step[k] = b.diagonal[k]+damping, -b.gradient[k]
		if k > 0 && b.beside[k-1] != 0 {
			ratio := b.beside[k-1] / b.pivot[k-1]
			b.pivot[k] -= ratio * b.beside[k-1]
			b.step[k] -= ratio * b.step[k-1]
		}
		if !(b.pivot[k] > 0) {
			return false
		}
	}
	for k := last; k >= 0; k-- {
		if k < last {
			b.step[k] -= b.beside[k] * b.step[k+1]
		}
		b.step[k] /= b.pivot[k]
	}
	for k := range b.knots {
		if b.knots[k].fixed() {
			b.step[k] = 0 // neither minus zero nor a number from a fixed neighbour
		}
	}
	return true
}

// zeroed returns a slice of n zeros, in the memory of s if it is large enough.
func zeroed(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// sound reports whether the path is the path of a ray. Each segment lies in its zone, and no
// segment creeps along a face, as in the path of a head wave.
func (b *bender) sound() bool {
	for i := range b.segments {
		from, to := &b.knots[i], &b.knots[i+1]
		at, zone := middle(from.at, to.at), b.segments[i].zone
		if zone < 0 {
			if b.part.Entry.Depth(at) > tolerance {
				return false
			}
			continue
		}
		if !b.part.inside(at, contactTolerance) || !b.part.belongs(at, zone) ||
			b.part.blocked(from.at, to.at) {
			return false
		}
		if from.face != nil && from.face == to.face && math.Abs(from.face.Depth(at)) <= tolerance {
			return false
		}
	}
	return true
}
