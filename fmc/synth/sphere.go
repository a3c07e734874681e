// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge"
)

// Sphere is a spherical void, such as a large pore. It scatters by specular reflection, in the same
// mode and converted: the limit of short waves. The radius a should be above about one wavelength λ
// of the slower wave. The model contains no waves that creep round the sphere. It also contains no
// shadow, which lies within about λ/(2πa) rad of straight ahead. A sphere exists in space only. For
// pores that are small against the wavelength use a [Point] or a [Cloud].
type Sphere struct {
	Position r3.Vec  // of the centre in m, finite
	Diameter float64 // in m, finite and above 0
}

// sphere is a Sphere in its surroundings.
type sphere struct {
	Sphere
	around Surroundings
	face   face
}

// Scatterers implements [Reflector].
func (s Sphere) Scatterers(around Surroundings) ([]Scatterer, error) {
	if err := checkPosition("position of the sphere", s.Position); err != nil {
		return nil, err
	}
	if !number.Positive(s.Diameter) {
		return nil, fmt.Errorf("synth: diameter of the sphere %v m: want a finite value above 0",
			s.Diameter)
	}
	if around.Dimension != wedge.Space {
		return nil, fmt.Errorf("synth: sphere in a section: want wedge.Space, or a Hole")
	}
	f, err := newFace(around.Part)
	if err != nil {
		return nil, err
	}
	return []Scatterer{&sphere{s, around, f}}, nil
}

// Centre implements [Scatterer].
func (s *sphere) Centre() (r3.Vec, bool) { return s.Position, false }

// Scatter implements [Scatterer].
func (s *sphere) Scatter(dst []complex128, in, out Wave) {
	clear(dst)
	// At the specular point the phase of in and out is stationary along the surface.
	q := r3.Sub(s.face.slowness(out), s.face.slowness(in))
	size := r3.Norm(q)
	if size == 0 {
		return // straight ahead
	}
	normal := r3.Scale(1/size, q)
	if r3.Dot(in.Direction, normal) >= 0 {
		return // no point of the surface reflects a converted wave into this direction
	}
	// The integral over the surface around the specular point is 2πia/(ω|q|)·exp(-iω|q|a), with
	// the radius a.
	radius := s.Diameter / 2
	amplitude := s.face.echo(wedge.Space, in, out, normal)
	amplitude *= complex(0, 2*math.Pi*radius/size)
	for k, f := range s.around.Frequencies {
		// The integral diverges straight ahead, and for spheres that are small against the
		// wavelength. The factor makes the echo vanish there.
		phase := 2 * math.Pi * f * size * radius
		fade := math.Pow(phase, 4)
		dst[k] = amplitude * cmplx.Rect(fade/(1+fade), -phase)
	}
}
