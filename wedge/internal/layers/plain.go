// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package layers

import "math"

const (
	// smallest is the least thickness of the fastest layer in metres. A ray along the face of the
	// layer then has an angle, and a time that the thickness does not change.
	smallest = 1e-18
	// accuracy is the largest c·|Δ|/√(1+q²), as a share of the time. longest is the largest
	// |Δ|/√(1+q²). The error is then at most 4e-13 of the time, besides rounding.
	accuracy = 1e-13
	longest  = 0.5
	// shortest is the least denominator of Halley's step, as a share of the denominator of
	// Newton's step. Halley's step is then at most four times Newton's step.
	shortest = 0.25
	// steps is the largest number of steps of one ray. The tests need up to six steps, for a point
	// on a face at the critical distance.
	steps = 16
)

// plain is Solve in plain Go.
func (s *Stack) plain(seconds []float32, tangents []float64, p *Points) (ok bool) {
	seconds, tangents = seconds[:p.n], tangents[:p.n]
	ok = true
	for i := range seconds {
		du, dv := p.u[i]-s.u, p.v[i]-s.v
		p.apart[i] = math.Sqrt(du*du + dv*dv)
		time, q := s.solve(p.apart[i], p.distance[i])
		ok = ok && time <= math.MaxFloat64
		seconds[i], tangents[i] = float32(time), q
	}
	return ok
}

// solve returns the time of a ray in seconds, and its tangent q. The ends of the ray are d apart
// along the faces, and its end is at a distance from the last face. Time and tangent are NaN if
// the ray was not found.
func (s *Stack) solve(d, distance float64) (time, q float64) {
	h := math.Abs(s.fast.base + s.fast.share*distance)
	if h < smallest {
		h = smallest
	}
	slow := s.slow
	if len(slow) == 0 { // the ray is straight
		if time = s.slowness * math.Sqrt(d*d+h*h); !(time <= math.MaxFloat64) {
			return math.NaN(), math.NaN()
		}
		return time, d / h
	}
	sum, most := h, 0.0
	for i := range slow {
		l := &slow[i]
		b := l.base + l.share*distance
		sum += b
		most += b * l.limit
	}
	q = d / sum
	if slant := (d - most) / h; slant > q {
		q = slant
	}
	for k := range steps {
		// X/q, X', −X''/(3q), and T over s/√(1+q²).
		x, slope, curve, way := h, h, 0.0, h+q*d
		for i := range slow {
			l := &slow[i]
			b := l.base + l.share*distance
			w2 := 1 + l.bend*q*q
			v := 1 / math.Sqrt(w2)
			v2 := v * v
			b1 := b * v
			b3 := b1 * v2
			x += b1
			slope += b3
			curve += l.bend * b3 * v2
			way += l.weight * b * w2 * v
		}
		short := d - q*x
		if k > 0 { // the start is never near enough
			step := short / slope
			u := 1 / math.Sqrt(1+q*q)
			c := u * u * short * step / 2
			if turn := math.Abs(step) * u; turn <= longest && c*turn <= accuracy*way {
				return s.slowness * u * (way + c), q + step
			}
			if !(way <= math.MaxFloat64) {
				break
			}
		}
		newton := slope * slope
		halley := newton - 1.5*short*q*curve
		if halley < shortest*newton {
			halley = shortest * newton
		}
		if q += short * slope / halley; q < 0 {
			q = 0
		}
	}
	return math.NaN(), math.NaN()
}
