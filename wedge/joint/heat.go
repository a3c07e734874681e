// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r2"
)

// sink is a face through which the heat of weld metal flows.
type sink struct {
	curve
	outward r2.Vec // a vector that points out of the weld metal
}

// Growth returns the direction in which grains of weld metal grow at a place (m), by a simple law
// of heat flow. The direction is an angle in rad from +x towards +z. Its gradient is in rad/m.
//
// The law is assumed: no measurement supports it. Grains grow against the flow of heat, and the
// heat flows evenly through the fusion faces and the root into metal of one conductivity. The
// temperature is then the logarithmic potential of the faces, and grains grow along
//
//	E(p) = ∫ (p − s)/|p − s|² ds
//
// over all points s of the faces of the region. So grains leave the middle of a face at about a
// right angle, and lean to the free surface of the weld. The law continues smoothly a little beyond
// the faces. The result is NaN for a region that is not weld metal.
//
// The field of a straight line and of an arc is a closed form of potential theory (for example O.
// D. Kellogg, Foundations of Potential Theory, 1929, from memory).
func (r Region) Growth(p r2.Vec) (angle float64, gradient r2.Vec) {
	// The field E is the complex conjugate of an analytic function of x + iz.
	var field, derivative complex128
	z := complex(p.X, p.Y)
	for _, s := range r.sinks {
		f, d := s.field(z)
		field, derivative = field+f, derivative+d
	}
	if field == 0 {
		nan := math.NaN()
		return nan, r2.Vec{X: nan, Y: nan}
	}
	turn := derivative / field
	return -cmplx.Phase(field), r2.Vec{X: -imag(turn), Y: -real(turn)}
}

// field returns the conjugate field of a sink of strength 1, and its derivative. Its branch cuts go
// from the ends of the sink outwards and to its middle, so that they do not meet other faces.
func (s sink) field(z complex128) (field, derivative complex128) {
	a, b := complex(s.from.X, s.from.Y), complex(s.to.X, s.to.Y)
	if s.straight() {
		along := (b - a) / complex(cmplx.Abs(b-a), 0)
		inward := along * 1i
		if real(inward)*s.outward.X+imag(inward)*s.outward.Y > 0 {
			inward = -inward
		}
		from, to := apart(z-a, inward), apart(z-b, inward)
		return (angled(from, inward, along) - angled(to, inward, -along)) / along, (1/from - 1/to) / along
	}
	// On the circle of the arc, ζ = (z − centre)/radius, and the ends are w of modulus 1.
	middle, radius := s.circle()
	centre, size := complex(middle.X, middle.Y), complex(radius, 0)
	from, to := (a-centre)/size, (b-centre)/size
	if cmplx.Phase(to/from) < 0 {
		from, to = to, from
	}
	w := (z - centre) / size
	if cmplx.Abs(w) < 1e-4 { // the first terms of the power series
		for n := 3; n >= 1; n-- {
			k := complex(float64(n), 0)
			term := (cmplx.Pow(to, -k) - cmplx.Pow(from, -k)) / (k * 1i)
			field = field*w + term
			if n > 1 {
				derivative = derivative*w + (k-1)*term
			}
		}
		return field, derivative / size
	}
	one, other := apart(w-from, -from), apart(w-to, -to)
	field = (angled(one, -from, 1i*from) - angled(other, -to, -1i*to)) / (1i * w)
	slope := (1/one-1/other)/(1i*w) - field/w
	return field, slope / size
}

// angled returns the logarithm of d relative to inward, two vectors from an end of a sink. middle
// goes along the sink to its middle.
func angled(d, inward, middle complex128) complex128 {
	away := inward - middle // from the branch cut
	return cmplx.Log(d/away) + cmplx.Log(away/inward)
}

// apart returns d, or a short vector in the direction of inward if d is shorter: the field of a
// sink is infinite at its ends.
func apart(d, inward complex128) complex128 {
	const least = 1e-9
	if cmplx.Abs(d) < least {
		return least * inward
	}
	return d
}
