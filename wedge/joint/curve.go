// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// tolerance is how far, in metres, a point may lie off a line and still count as
// lying on it.
const tolerance = 1e-9

// Curve is a straight line, or an arc of a circle up to half of it. X of a point is
// x, Y of a point is the depth z, in m.
type Curve struct {
	From, To r2.Vec
	// Sagitta is the height of the arc over its chord in m, at most half the chord:
	// above 0 where it bulges to the right of the way from From to To, as one looks
	// at the section with z down; 0 for a straight line.
	// One below 1e-7 of the chord counts as 0.
	Sagitta float64
}

// straight reports whether the curve is, as far as its circle can be told.
func (c Curve) straight() bool { return !(math.Abs(c.Sagitta) > 1e-7*c.chord()) }

// chord returns the length of the line from one end to the other.
func (c Curve) chord() float64 { return r2.Norm(r2.Sub(c.To, c.From)) }

// span returns the angle of the arc in radians, in [0, π].
func (c Curve) span() float64 { return 4 * math.Atan(2*math.Abs(c.Sagitta)/c.chord()) }

// Circle returns the centre and the radius of the arc in m, or a radius of +Inf
// for a straight line.
func (c Curve) Circle() (centre r2.Vec, radius float64) {
	if c.straight() {
		return r2.Vec{}, math.Inf(1)
	}
	half, s := c.chord()/2, math.Abs(c.Sagitta)
	radius = (half*half + s*s) / (2 * s)
	// From the middle of the chord the centre lies against the bulge.
	back := (radius - s) / (2 * half)
	if c.Sagitta > 0 {
		back = -back
	}
	along := r2.Sub(c.To, c.From)
	middle := r2.Scale(0.5, r2.Add(c.From, c.To))
	return r2.Add(middle, r2.Scale(back, right(along))), radius
}

// right returns d turned to the right by a right angle, z being down: +x to +z.
func right(d r2.Vec) r2.Vec { return r2.Vec{X: -d.Y, Y: d.X} }

// At returns the point at a share of the length of the curve, in [0, 1].
func (c Curve) At(share float64) r2.Vec {
	if c.straight() {
		return r2.Add(r2.Scale(1-share, c.From), r2.Scale(share, c.To))
	}
	centre, _ := c.Circle()
	angle := share * c.span()
	if c.Sagitta > 0 {
		angle = -angle
	}
	return r2.Rotate(c.From, angle, centre)
}

// Inclination returns the angle between the curve, at a share of its length, and the
// z axis in radians, in (-π/2, π/2]: above 0 where the curve goes towards +x as
// it goes down. For a fusion face its size is the bevel angle.
func (c Curve) Inclination(share float64) float64 {
	return inclination(c.tangent(share))
}

// inclination is that of a line along d.
func inclination(d r2.Vec) float64 {
	if d.Y < 0 || d.Y == 0 && d.X < 0 {
		d = r2.Scale(-1, d)
	}
	return math.Atan2(d.X, d.Y)
}

// tangent returns a vector along the curve.
func (c Curve) tangent(share float64) r2.Vec {
	d := r2.Sub(c.To, c.From)
	if c.straight() {
		return d
	}
	turn := (0.5 - share) * c.span()
	if c.Sagitta < 0 {
		turn = -turn
	}
	return r2.Rotate(d, turn, r2.Vec{})
}

// Length returns the length of the curve in m.
func (c Curve) Length() float64 {
	if c.straight() {
		return c.chord()
	}
	_, radius := c.Circle()
	return radius * c.span()
}

// nearest returns the share of the length at which the curve is nearest p.
func (c Curve) nearest(p r2.Vec) float64 {
	d := r2.Sub(c.To, c.From)
	if c.straight() {
		length2 := r2.Norm2(d)
		if length2 == 0 {
			return 0
		}
		return math.Max(0, math.Min(1, r2.Dot(r2.Sub(p, c.From), d)/length2))
	}
	centre, _ := c.Circle()
	a, b := r2.Sub(c.From, centre), r2.Sub(p, centre)
	angle := math.Atan2(r2.Cross(a, b), r2.Dot(a, b))
	if c.Sagitta > 0 {
		angle = -angle
	}
	span := c.span()
	if angle >= 0 && angle <= span {
		return angle / span
	}
	if r2.Norm2(r2.Sub(p, c.From)) <= r2.Norm2(r2.Sub(p, c.To)) {
		return 0
	}
	return 1
}

// append appends a polyline along the curve, without its first point, that is
// nowhere farther from it than the tolerance.
func (c Curve) append(points []r2.Vec, tolerance float64) []r2.Vec {
	if !c.straight() {
		_, radius := c.Circle()
		// A chord over the angle φ lies radius·(1 - cos(φ/2)) off the arc.
		step := 4 * math.Asin(math.Sqrt(math.Min(1, tolerance/(2*radius))))
		n := int(math.Ceil(c.span() / step))
		for i := 1; i < n; i++ {
			points = append(points, c.At(float64(i)/float64(n)))
		}
	}
	return append(points, c.To)
}

// segment returns the area between the arc and its chord in m², of the sign of the
// sagitta.
func (c Curve) segment() float64 {
	if c.straight() {
		return 0
	}
	_, radius := c.Circle()
	span := c.span()
	return math.Copysign(radius*radius*(span-math.Sin(span))/2, c.Sagitta)
}

// reversed returns the curve from its end to its beginning.
func (c Curve) reversed() Curve { return Curve{From: c.To, To: c.From, Sagitta: -c.Sagitta} }

// shifted returns the curve moved by d.
func (c Curve) shifted(d r2.Vec) Curve {
	return Curve{From: r2.Add(c.From, d), To: r2.Add(c.To, d), Sagitta: c.Sagitta}
}
