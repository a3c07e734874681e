// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// FlatBottomHole is the flat end of a drilled hole, a disc that reflects on one
// side. It echoes as that part of an endless face would (Kirchhoff's
// approximation), in the disc's far field: for a diameter above a wavelength
// or so, at a distance above its near-field length d²/4λ from array elements.
// The hole's rim and its cylindrical wall are left out. It exists in space only.
type FlatBottomHole struct {
	Position r3.Vec  // centre of the disc in m, finite
	Normal   r3.Vec  // of the disc, towards the side that reflects; of length 1e-100 to 1e100
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
	if !positive(h.Diameter) {
		return nil, fmt.Errorf("synth: diameter of the flat-bottom hole %v m: want a finite value above 0", h.Diameter)
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
		clear(dst) // from behind, or to there
		return
	}
	radius := d.Diameter / 2
	amplitude := d.face.echo(wedge.Space, in, out, d.Normal)
	amplitude *= complex(math.Pi*radius*radius, 0)
	// The slope of the phase along the disc.
	slope := r3.Norm(r3.Cross(r3.Sub(d.face.slowness(in), d.face.slowness(out)), d.Normal))
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
