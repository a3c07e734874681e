// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// Crack is a plane open crack, a slit, or lack of fusion: empty, endless along
// y. Its face echoes as its pieces would in an endless face
// (Kirchhoff's approximation), which is right near the specular direction and at
// once gives its shape; to this each tip adds what it diffracts beyond that, by
// the exact solution for the tip of an endless crack. So it is right in all
// directions to the first order of short waves. It leaves out what one tip
// sends to the other, along the face or as a surface wave: it wants a crack
// longer than the wavelength. Space is dealt with as in a [Hole].
type Crack struct {
	From, To r3.Vec // the ends in m, finite and distinct; y is 0
	// Rooted says that To lies on a surface of the part: no tip is there. The
	// echo from the corner is that of views that skip off that surface.
	Rooted bool
	// Width is the opening in m, finite and at least 0, for a saw cut or a machined
	// slit up to a quarter of a wavelength: the faces lie half of it off the line
	// between the ends, and a flat end as wide closes each tip, which, seen along
	// the slit, echoes more than a sharp tip.
	Width float64
}

// crack is a Crack in its surroundings.
type crack struct {
	Crack
	around Surroundings
	face   face
	tips   *halfPlane
}

// Scatterers implements [Reflector].
func (c Crack) Scatterers(around Surroundings) ([]Scatterer, error) {
	if err := checkPosition("end of the crack", c.From); err != nil {
		return nil, err
	}
	if err := checkPosition("end of the crack", c.To); err != nil {
		return nil, err
	}
	length := r3.Norm(r3.Sub(c.To, c.From))
	if c.From.Y != 0 || c.To.Y != 0 || !(length > 0) {
		return nil, fmt.Errorf("synth: crack from %v to %v m: want distinct ends with y = 0", c.From, c.To)
	}
	if !(c.Width >= 0) || !finite(c.Width) {
		return nil, fmt.Errorf("synth: width of the crack %v m: want a finite value of 0 or above", c.Width)
	}
	f, err := newFace(around.Part)
	if err != nil {
		return nil, err
	}
	of := &crack{Crack: c, around: around, face: f, tips: newHalfPlane(around.Part)}
	highest, err := around.highest()
	if err != nil {
		return nil, err
	}
	pieces := math.Ceil(length / pieceLength * highest / around.Part.Transverse)
	if pieces > 1e4 {
		return nil, fmt.Errorf("synth: crack of %v m: want up to 10000 of the shortest wavelengths", length)
	}
	along := r3.Unit(r3.Sub(c.To, c.From))
	normal := r3.Vec{X: -along.Z, Z: along.X}
	var out []Scatterer
	for i := range int(pieces) {
		middle := length * (float64(i) + 0.5) / pieces
		out = append(out, &piece{of, r3.Add(c.From, r3.Scale(middle, along)), along, normal, length / pieces, c.Width / 2, false})
	}
	ends := []*tip{{of, c.From, along, normal}, {of, c.To, r3.Scale(-1, along), normal}}
	if c.Rooted {
		ends = ends[:1]
	}
	for _, end := range ends {
		out = append(out, end)
		if c.Width > 0 {
			out = append(out, &piece{of, end.at, normal, r3.Scale(-1, end.along), c.Width, 0, true})
		}
	}
	return out, nil
}

// pieceLength is the greatest of the pieces of a face, in the shortest wavelengths.
// Within a piece wave fronts are taken as plane: five wavelengths from an
// element they deviate from that by 1/40 of a period each way.
const pieceLength = 1.0

// scale returns what amplitudes in a section become in the surroundings.
func (c *crack) scale(in, out Wave) float64 {
	if c.around.Dimension == wedge.Space {
		return lineToSpace(c.around.Part, in, out)
	}
	return 1
}

// lead returns by how much earlier, in s, a face echoes that lies a distance off
// the line between the ends, on the side where a wave comes from and the other
// goes to; 0 if they have no side in common.
func (c *crack) lead(in, out Wave, normal r3.Vec, distance float64) float64 {
	lit := facing(in, normal)
	if facing(back(out), normal) != lit {
		return 0
	}
	return r3.Dot(r3.Sub(c.face.slowness(out), c.face.slowness(in)), lit) * distance
}

// piece is a flat piece of a crack's surface.
type piece struct {
	crack         *crack
	middle        r3.Vec
	along, normal r3.Vec  // unit vectors in the section
	length        float64 // m
	off           float64 // distance from middle to the face on either side, m
	oneSided      bool    // there is no face on the side against the normal
}

// Centre implements [Scatterer].
func (p *piece) Centre() (r3.Vec, bool) { return p.middle, true }

// Scatter implements [Scatterer].
func (p *piece) Scatter(dst []complex128, in, out Wave) {
	c := p.crack
	if p.oneSided && (facing(in, p.normal) != p.normal || facing(back(out), p.normal) != p.normal) {
		clear(dst)
		return
	}
	amplitude := c.face.echo(wedge.Section, in, out, p.normal) * complex(c.scale(in, out)*p.length, 0)
	slope := r3.Dot(r3.Sub(c.face.slowness(in), c.face.slowness(out)), p.along)
	lead := c.lead(in, out, p.normal, p.off)
	for k, f := range c.around.Frequencies {
		size := math.Sqrt(2*math.Pi*f) * sinc(slope*p.length*f)
		dst[k] = amplitude * cmplx.Rect(size, -2*math.Pi*f*lead)
	}
}
