// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge"
)

// FlatBottomHole is the flat end of a drilled hole: a disc that reflects on one side. Its points
// move as the points of an endless face do (Kirchhoff's approximation). This holds for a diameter d
// above about one wavelength λ, and in the far field of the disc, beyond its near-field length
// d²/4λ. The rim and the cylindrical wall of the hole do not echo. A flat-bottom hole exists in
// space only.
type FlatBottomHole struct {
	Position r3.Vec  // centre of the disc in m, finite
	Normal   r3.Vec  // towards the side that reflects, of a length from 1e-100 to 1e100
	Diameter float64 // in m, finite and above 0
}

// disc is a FlatBottomHole in its surroundings.
type disc struct {
	FlatBottomHole
	around Surroundings
	face   face
}

// Scatterers implements [Reflector].
func (h FlatBottomHole) Scatterers(around Surroundings) ([]Scatterer, error) {
	if err := checkPosition("position of the flat-bottom hole", h.Position); err != nil {
		return nil, err
	}
	if err := checkDirection("normal of the flat-bottom hole", h.Normal); err != nil {
		return nil, err
	}
	if !number.Positive(h.Diameter) {
		return nil, fmt.Errorf("synth: diameter of the flat-bottom hole %v m: want a finite value above 0",
			h.Diameter)
	}
	if around.Dimension != wedge.Space {
		return nil, fmt.Errorf("synth: flat-bottom hole in a section: want wedge.Space, or a Crack")
	}
	f, err := newFace(around.Part)
	if err != nil {
		return nil, err
	}
	h.Normal = r3.Unit(h.Normal)
	return []Scatterer{&disc{h, around, f}}, nil
}

// Centre implements [Scatterer].
func (d *disc) Centre() (r3.Vec, bool) { return d.Position, false }

// Scatter implements [Scatterer].
func (d *disc) Scatter(dst []complex128, in, out Wave) {
	if r3.Dot(in.Direction, d.Normal) >= 0 || r3.Dot(out.Direction, d.Normal) <= 0 {
		clear(dst) // a wave that arrives from behind, or leaves to behind
		return
	}
	radius := d.Diameter / 2
	amplitude := d.face.echo(wedge.Space, in, out, d.Normal)
	amplitude *= complex(math.Pi*radius*radius, 0)
	// The slope of the phase along the disc, over ω.
	slownesses := r3.Sub(d.face.slowness(in), d.face.slowness(out))
	slope := r3.Norm(r3.Cross(slownesses, d.Normal))
	for k, f := range d.around.Frequencies {
		omega := 2 * math.Pi * f
		dst[k] = amplitude * complex(omega*jinc(omega*slope*radius), 0)
	}
}

// jinc returns 2·J₁(x)/x.
func jinc(x float64) float64 {
	if math.Abs(x) < 1e-4 {
		return 1 - x*x/8
	}
	return 2 * math.J1(x) / x
}
