// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// tolerance is the distance in m within which a point counts as lying on a line.
const tolerance = 1e-9

// curve is a straight line, or an arc of at most half a circle.
type curve struct {
	from, to r2.Vec
	// sagitta is the height of the arc over its chord in m, at most half of the chord. It is above
	// 0 if the arc bulges to the right of the way from one end to the other, as one looks at the
	// section with z down. It is 0 for a straight line. A sagitta below 1e-7 of the chord counts as
	// 0.
	sagitta float64
}

// straight reports whether the curve is straight, as far as rounding can tell.
func (c curve) straight() bool { return !(math.Abs(c.sagitta) > 1e-7*c.chord()) }

// chord returns the length of the line from one end to the other.
func (c curve) chord() float64 { return r2.Norm(r2.Sub(c.to, c.from)) }

// span returns the angle of the arc in radians, in [0, π].
func (c curve) span() float64 { return 4 * math.Atan(2*math.Abs(c.sagitta)/c.chord()) }

// circle returns the centre and the radius of an arc in m, and a radius of +Inf for a straight
// line.
func (c curve) circle() (centre r2.Vec, radius float64) {
	if c.straight() {
		return r2.Vec{}, math.Inf(1)
	}
	half, s := c.chord()/2, math.Abs(c.sagitta)
	radius = (half*half + s*s) / (2 * s)
	// From the middle of the chord the centre lies against the bulge.
	back := (radius - s) / (2 * half)
	if c.sagitta > 0 {
		back = -back
	}
	along := r2.Sub(c.to, c.from)
	middle := r2.Scale(0.5, r2.Add(c.from, c.to))
	return r2.Add(middle, r2.Scale(back, right(along))), radius
}

// right returns d turned to the right by a right angle, as seen with z down: +x turns to +z.
func right(d r2.Vec) r2.Vec { return r2.Vec{X: -d.Y, Y: d.X} }

// At returns the point in m at a share of the length of the curve, in [0, 1].
func (c curve) At(share float64) r2.Vec {
	if c.straight() {
		return r2.Add(r2.Scale(1-share, c.from), r2.Scale(share, c.to))
	}
	centre, _ := c.circle()
	angle := share * c.span()
	if c.sagitta > 0 {
		angle = -angle
	}
	return r2.Rotate(c.from, angle, centre)
}

// Inclination returns the angle between the curve and the z axis in radians, in (-π/2, π/2], at a
// share of the length of the curve. It is above 0 if the curve goes towards +x as it goes down. The
// size of the inclination of a bevel is the bevel angle.
func (c curve) Inclination(share float64) float64 {
	return inclination(c.tangent(share))
}

// inclination returns the inclination of a line along d.
func inclination(d r2.Vec) float64 {
	if d.Y < 0 || d.Y == 0 && d.X < 0 {
		d = r2.Scale(-1, d)
	}
	return math.Atan2(d.X, d.Y)
}

// tangent returns a vector along the curve.
func (c curve) tangent(share float64) r2.Vec {
	d := r2.Sub(c.to, c.from)
	if c.straight() {
		return d
	}
	turn := (0.5 - share) * c.span()
	if c.sagitta < 0 {
		turn = -turn
	}
	return r2.Rotate(d, turn, r2.Vec{})
}

// nearest returns the share of the length at which the curve is nearest to p.
func (c curve) nearest(p r2.Vec) float64 {
	d := r2.Sub(c.to, c.from)
	if c.straight() {
		length2 := r2.Norm2(d)
		if length2 == 0 {
			return 0
		}
		return max(0, min(1, r2.Dot(r2.Sub(p, c.from), d)/length2))
	}
	centre, _ := c.circle()
	a, b := r2.Sub(c.from, centre), r2.Sub(p, centre)
	angle := math.Atan2(r2.Cross(a, b), r2.Dot(a, b))
	if c.sagitta > 0 {
		angle = -angle
	}
	span := c.span()
	if angle >= 0 && angle <= span {
		return angle / span
	}
	if r2.Norm2(r2.Sub(p, c.from)) <= r2.Norm2(r2.Sub(p, c.to)) {
		return 0
	}
	return 1
}

// append appends a polyline along the curve without its first point. The polyline lies within the
// tolerance of the curve.
func (c curve) append(points []r2.Vec, tolerance float64) []r2.Vec {
	if !c.straight() {
		_, radius := c.circle()
		// A chord over the angle φ lies radius·(1 - cos(φ/2)) off the arc.
		step := 4 * math.Asin(math.Sqrt(min(1, tolerance/(2*radius))))
		n := int(math.Ceil(c.span() / step))
		for i := 1; i < n; i++ {
			points = append(points, c.At(float64(i)/float64(n)))
		}
	}
	return append(points, c.to)
}

// segment returns the area between the arc and its chord in m². It has the sign of the sagitta.
func (c curve) segment() float64 {
	if c.straight() {
		return 0
	}
	_, radius := c.circle()
	span := c.span()
	return math.Copysign(radius*radius*(span-math.Sin(span))/2, c.sagitta)
}

// reversed returns the curve from its end to its beginning.
func (c curve) reversed() curve { return curve{c.to, c.from, -c.sagitta} }

// shifted returns the curve moved by d.
func (c curve) shifted(d r2.Vec) curve {
	return curve{r2.Add(c.from, d), r2.Add(c.to, d), c.sagitta}
}
