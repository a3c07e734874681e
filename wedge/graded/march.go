// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// state is a wave on its ray: its place x and the angle θ of its normal. The slowness is n/v, where
// n is the unit vector at the angle θ and v(x, θ) the phase speed. Hamilton's equations for
// v·|slowness| give
//
//	dx/dt = v n + ∂v/∂θ n⊥,  dθ/dt = −n⊥·∂v/∂x
//
// where n⊥ is n turned on by a right angle.
type state struct{ x, z, angle float64 }

// at returns the place.
func (s state) at(y float64) r3.Vec { return r3.Vec{X: s.x, Y: y, Z: s.z} }

// finite reports whether no component is NaN or infinite.
func (s state) finite() bool { return s.x*0+s.z*0+s.angle*0 == 0 }

// marcher moves waves of one polarisation along their rays.
type marcher struct {
	pol       Polarisation
	y         float64
	tolerance float64 // of a step, m
	spread    float64 // length by which an error of the angle counts, m
}

// rate returns the derivative of a state by time.
func (m *marcher) rate(medium Medium, s state) state {
	w := medium.Phase(m.pol, s.at(m.y), s.angle)
	sin, cos := math.Sincos(s.angle)
	return state{
		x:     w.Speed*cos - w.ByAngle*sin,
		z:     w.Speed*sin + w.ByAngle*cos,
		angle: w.Place.X*sin - w.Place.Z*cos,
	}
}

// plus returns s + h Σ weights·rates.
func (s state) plus(h float64, weights []float64, rates *[7]state) state {
	for i, w := range weights {
		s.x += h * w * rates[i].x
		s.z += h * w * rates[i].z
		s.angle += h * w * rates[i].angle
	}
	return s
}

// dormandPrince holds the stages of the method of Dormand and Prince of order 5; the last stage is
// the step itself. embedded holds the difference from the embedded method of order 4.
var (
	dormandPrince = [6][]float64{
		{1. / 5},
		{3. / 40, 9. / 40},
		{44. / 45, -56. / 15, 32. / 9},
		{19372. / 6561, -25360. / 2187, 64448. / 6561, -212. / 729},
		{9017. / 3168, -355. / 33, 46732. / 5247, 49. / 176, -5103. / 18656},
		{35. / 384, 0, 500. / 1113, 125. / 192, -2187. / 6784, 11. / 84},
	}
	embedded = []float64{71. / 57600, 0, -71. / 16695, 71. / 1920, -17253. / 339200, 22. / 525,
		-1. / 40}
)

const (
	shortestStep = 1. / 4096 // of the given time; a step of this length is taken whatever its error
	caution      = 0.9       // of the longest step that meets the tolerance
)

// advance returns the state a time h later, or earlier if h < 0. The medium is assumed to go on
// beyond its faces.
func (m *marcher) advance(medium Medium, s state, h float64) state {
	var rates [7]state
	rates[0] = m.rate(medium, s)
	if medium.Uniform() {
		return s.plus(h, []float64{1}, &rates)
	}
	least := shortestStep * math.Abs(h)
	left, step := h, h
	for left != 0 && s.finite() {
		next := s
		for i, weights := range dormandPrince {
			next = s.plus(step, weights, &rates)
			rates[i+1] = m.rate(medium, next)
		}
		off := state{}.plus(step, embedded, &rates)
		miss := math.Hypot(off.x, off.z) + m.spread*math.Abs(off.angle)
		scale := 0.2 // where the medium ends, too
		if miss*0 == 0 {
			scale = max(scale, min(4, caution*math.Pow(m.tolerance/miss, 0.2)))
		}
		if miss <= m.tolerance || math.Abs(step) <= least {
			s, rates[0] = next, rates[6]
			left -= step
		}
		step = math.Copysign(min(max(scale*math.Abs(step), least), math.Abs(left)), h)
	}
	return s
}
