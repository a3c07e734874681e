// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// The search for a phase direction whose energy travels along the unit vector d uses the plane q =
// d + x·e1 + y·e2 across d. On this plane v(q), homogeneous of degree 1, is the reciprocal of the
// time s·d, with the slowness s, in which the plane wave moves one metre along d. Its gradient in x
// and y is the part of the group velocity across d. Arrivals are therefore the stationary points of
// v. They are also the stationary points of half of v², which is easier to differentiate.

// curvature2 is a symmetric 2×2 matrix of second derivatives.
type curvature2 struct{ xx, xy, yy float64 }

// principal returns the eigenvalues of h, and the angle in radians from x to the axis of the first
// eigenvalue. The eigenvalue with the larger modulus comes first.
func (h curvature2) principal() (large, small, angle float64) {
	mean, half := (h.xx+h.yy)/2, (h.xx-h.yy)/2
	radius := math.Hypot(half, h.xy)
	angle = math.Atan2(h.xy, half) / 2
	if mean >= 0 {
		return mean + radius, mean - radius, angle
	}
	return mean - radius, mean + radius, angle + math.Pi/2
}

// planeSlope holds half of v² and its derivatives in x and y.
type planeSlope struct {
	value     float64
	x, y      float64
	curvature curvature2
}

// planeDerivatives returns half of v² on the given sheet at q and its derivatives along e1 and e2,
// by perturbation of a simple eigenvalue to second order. For eigenvalues that coincide it returns
// the mean of the derivatives.
func (c *Christoffel) planeDerivatives(q, e1, e2 r3.Vec, sheet Sheet) planeSlope {
	squares, p := c.between(q, q).eigen()
	from, to := cluster(&squares, int(sheet))
	out := planeSlope{value: squares[sheet] / 2}
	share := 1 / float64(to-from)
	for i := from; i < to; i++ {
		own := c.between(p[i], p[i])
		gradient, bend1, bend2 := own.mulVec(q), own.mulVec(e1), own.mulVec(e2)
		out.x += share * r3.Dot(e1, gradient)
		out.y += share * r3.Dot(e2, gradient)
		out.curvature.xx += share * r3.Dot(e1, bend1)
		out.curvature.xy += share * r3.Dot(e1, bend2)
		out.curvature.yy += share * r3.Dot(e2, bend2)
		for j := range p {
			if j >= from && j < to {
				continue
			}
			coupling := c.between(p[i], p[j])
			mixed := coupling.mulVec(q)
			x, y := r3.Dot(e1, mixed), r3.Dot(e2, mixed)
			weight := 4 * share / (squares[i] - squares[j])
			out.curvature.xx += weight * x * x
			out.curvature.xy += weight * x * y
			out.curvature.yy += weight * y * y
		}
	}
	return out
}

// newtonStep returns the step in x and y to the stationary point of the quadratic function f. The
// step is 0 in a direction in which f is flat to rounding, as along a ring about an axis of
// symmetry.
func (f planeSlope) newtonStep() (x, y float64) {
	large, small, angle := f.curvature.principal()
	sin, cos := math.Sincos(angle)
	along, across := cos*f.x+sin*f.y, cos*f.y-sin*f.x
	if large == 0 {
		return 0, 0
	}
	along /= -large
	if math.Abs(small) > 1e-12*math.Abs(large) {
		across /= -small
	} else {
		across = 0
	}
	return cos*along - sin*across, sin*along + cos*across
}

const (
	newtonSteps = 60   // the most Newton steps; 4 to 8 are usual
	newtonNear  = 1e-4 // below this part of |q|, steps shrink quadratically and need no search
)

// leastAcross returns the unit vector of the phase direction of the quasi-longitudinal wave whose
// energy travels along the unit vector d. At this direction v of the qL sheet is least on the plane
// across d (Fermat's principle for plane waves).
//
// Half of v² of the fastest wave is convex. Its curvature is at least the smallest eigenvalue of a
// positive definite form, so a Newton step always points downhill. The line search halves a step
// until v falls, and the method converges from any start. It ends when the steps no longer shrink.
func (c *Christoffel) leastAcross(d r3.Vec) r3.Vec {
	e1, e2 := planeAcross(d)
	q := d
	f := c.planeDerivatives(q, e1, e2, QL)
	last := math.Inf(1)
	for range newtonSteps {
		x, y := f.newtonStep()
		size := math.Hypot(x, y) / r3.Norm(q)
		if size == 0 || size < newtonNear && size > last/2 {
			break
		}
		last = size
		step := 1.0
		next := onPlane(q, e1, e2, x, y)
		g := c.planeDerivatives(next, e1, e2, QL)
		if size >= newtonNear {
			slope := f.x*x + f.y*y
			for g.value > f.value+1e-4*step*slope && step > 1e-9 {
				step /= 2
				next = onPlane(q, e1, e2, step*x, step*y)
				g = c.planeDerivatives(next, e1, e2, QL)
			}
		}
		q, f = next, g
	}
	return r3.Unit(q)
}

// onPlane returns q + x·e1 + y·e2.
func onPlane(q, e1, e2 r3.Vec, x, y float64) r3.Vec {
	return r3.Add(q, r3.Add(r3.Scale(x, e1), r3.Scale(y, e2)))
}
