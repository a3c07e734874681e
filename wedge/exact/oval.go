// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package exact

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// oval is a Cartesian oval, extruded along y. For all its points P the time from the focus A to P
// and on to the focus B is the same:
//
//	s₁·|AP| + s₂·|PB| = time
//
// Here s₁ and s₂ are the slownesses. If they are equal, the oval is an ellipse. The focus A lies on
// the near side.
//
// The parameter u is the angle round A, from +z towards +x, multiplied by the distance of the curve
// from A in the direction +z.
type oval struct {
	focus r3.Vec  // A
	turn  float64 // the angle of B
	scale float64 // of u, m/rad
	// The factors of the equation of the distance from A: see radius.
	constant, cosine, difference, product float64
}

// newOval returns the oval for a time between two foci with the same y, and for the speeds c1 ≤ c2
// in m/s. An oval that refracts has a time between the times of the straight line at both speeds.
// An oval that reflects has a longer time than both.
func newOval(a, b r3.Vec, c1, c2, time float64) *oval {
	between := r3.Sub(b, a)
	d := r3.Norm(between)
	s1, s2 := 1/c1, 1/c2
	o := &oval{focus: a, turn: math.Atan2(between.X, between.Z)}
	o.constant, o.cosine = time*s1, s2*s2*d
	o.difference, o.product = s1*s1-s2*s2, time*time-s2*s2*d*d
	o.scale, _, _ = o.radius(0)
	return o
}

// radius returns the distance r of the curve from A at an angle, and its first two derivatives.
//
// Let d be the distance between the foci, and θ the angle from B. The square of s₂·|PB| = time -
// s₁·r, with |PB|² = r² - 2·r·d·cos θ + d², gives
//
//	difference·r² - 2·b·r + product = 0,  b = time·s₁ - s₂²·d·cos θ
//
// The derivatives follow from this equation.
func (o *oval) radius(angle float64) (r, first, second float64) {
	sin, cos := math.Sincos(angle - o.turn)
	b, db, ddb := o.constant-o.cosine*cos, o.cosine*sin, o.cosine*cos
	root := math.Sqrt(b*b - o.difference*o.product)
	r = o.product / (b + root)
	first = -db * r / root
	second = -(ddb*r + 2*db*first - o.difference*first*first) / root
	return r, first, second
}

// curve returns the point of the curve at u, relative to A, and its first two derivatives.
func (o *oval) curve(u float64) (p, first, second r3.Vec) {
	angle := u / o.scale
	r, dr, ddr := o.radius(angle)
	sin, cos := math.Sincos(angle)
	combine := func(out, round float64) r3.Vec {
		return r3.Vec{X: out*sin + round*cos, Z: out*cos - round*sin}
	}
	first = r3.Scale(1/o.scale, combine(dr, r))
	second = r3.Scale(1/(o.scale*o.scale), combine(ddr-r, 2*dr))
	return combine(r, 0), first, second
}

// At implements [wedge.Surface].
func (o *oval) At(u, v float64) wedge.Patch {
	p, first, second := o.curve(u)
	return wedge.Patch{
		P:  r3.Vec{X: o.focus.X + p.X, Y: v, Z: o.focus.Z + p.Z},
		U:  first,
		V:  r3.Vec{Y: 1},
		UU: second,
	}
}

// Locate implements [wedge.Surface].
func (o *oval) Locate(q r3.Vec) (u, v float64) {
	d := r3.Vec{X: q.X - o.focus.X, Z: q.Z - o.focus.Z}
	return nearest(o.curve, d, o.scale*math.Atan2(d.X, d.Z)), q.Y
}

// Depth implements [wedge.Surface].
func (o *oval) Depth(q r3.Vec) float64 {
	u, v := o.Locate(q)
	d := r3.Vec{X: q.X - o.focus.X, Z: q.Z - o.focus.Z}
	r, _, _ := o.radius(math.Atan2(d.X, d.Z))
	return math.Copysign(r3.Norm(r3.Sub(q, o.At(u, v).P)), r3.Norm(d)-r)
}

// Extruded implements [wedge.Surface].
func (o *oval) Extruded() bool { return true }
