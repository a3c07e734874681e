// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material/diffraction"
	"github.com/isochron-imaging/isochron/wedge"
)

// Crack is a plane open crack, a slit, or lack of fusion. It is empty and endless along y.
//
// The echo of a crack has two parts. The points of its face move as the points of an endless face
// do (Kirchhoff's approximation). This part is correct near the specular direction. Each tip adds
// the rest of its diffraction, by the exact solution for the tip of an endless crack. The sum is
// correct in all directions, to the first order of short waves. The model contains no waves from
// one tip to the other, along the face or as surface waves. So the crack should be longer than the
// wavelength; a [ShortCrack] may be shorter. In space, a crack echoes from one point along y, as a
// [Hole] does.
type Crack struct {
	From, To r3.Vec // the ends in m, finite and distinct; y is 0
	// Rooted says that To lies on a surface of the part: there is no tip at To. The corner
	// between the crack and the surface echoes in views that skip off the surface.
	Rooted bool
	// Width is the opening of a saw cut or a machined slit, in m: finite, at least 0. It should be
	// at most a quarter of a wavelength. Each face lies half a width off the line between the ends.
	// A flat end of this width closes each tip. Along the slit, it echoes more than a sharp tip.
	Width float64
	// FaceOnly leaves out the echoes of the tips and of the flat ends. What remains is Kirchhoff's
	// approximation of a smooth planar flaw.
	FaceOnly bool
}

// crack is a Crack in its surroundings.
type crack struct {
	Crack
	around Surroundings
	face   face
	tips   *diffraction.Tip
}

// validate reports the first field that is out of range.
func (c Crack) validate() error {
	for _, end := range [...]r3.Vec{c.From, c.To} {
		if err := checkPosition("end of the crack", end); err != nil {
			return err
		}
	}
	if c.From.Y != 0 || c.To.Y != 0 || !(c.length() > 0) {
		return fmt.Errorf("synth: crack from %v to %v m: want distinct ends with y = 0",
			c.From, c.To)
	}
	if !(c.Width >= 0) || !number.Finite(c.Width) {
		return fmt.Errorf("synth: width of the crack %v m: want a finite value of 0 or above",
			c.Width)
	}
	return nil
}

// length returns the distance of the ends in m.
func (c Crack) length() float64 { return r3.Norm(r3.Sub(c.To, c.From)) }

// Scatterers implements [Reflector].
func (c Crack) Scatterers(around Surroundings) ([]Scatterer, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	f, err := newFace(around.Part)
	if err != nil {
		return nil, err
	}
	tips, err := diffraction.NewTip(around.Part)
	if err != nil {
		return nil, fmt.Errorf("synth: %w", err)
	}
	of := &crack{Crack: c, around: around, face: f, tips: tips}
	highest, err := around.highest()
	if err != nil {
		return nil, err
	}
	pieces := math.Ceil(c.length() / pieceLength * highest / around.Part.Transverse)
	if pieces > 1e4 {
		return nil, fmt.Errorf("synth: crack of %v m: want up to 10000 of the shortest wavelengths",
			c.length())
	}
	along := r3.Unit(r3.Sub(c.To, c.From))
	normal := r3.Vec{X: -along.Z, Z: along.X}
	face := of.pieces(int(pieces), along, normal)
	if c.FaceOnly {
		return face, nil
	}
	return append(face, of.ends(along, normal)...), nil
}

// pieces returns the given number of pieces of the face.
func (c *crack) pieces(n int, along, normal r3.Vec) (out []Scatterer) {
	length := c.length()
	for i := range n {
		middle := length * (float64(i) + 0.5) / float64(n)
		out = append(out, &piece{
			crack: c, middle: r3.Add(c.From, r3.Scale(middle, along)), along: along, normal: normal,
			length: length / float64(n), off: c.Width / 2,
		})
	}
	return out
}

// ends returns the tips, and the flat ends of a slit.
func (c *crack) ends(along, normal r3.Vec) (out []Scatterer) {
	tips := []*tip{{c, c.From, along, normal}, {c, c.To, r3.Scale(-1, along), normal}}
	if c.Rooted {
		tips = tips[:1]
	}
	for _, t := range tips {
		out = append(out, t)
		if c.Width > 0 {
			out = append(out, &piece{
				crack: c, middle: t.at, along: normal, normal: r3.Scale(-1, t.along),
				length: c.Width, oneSided: true,
			})
		}
	}
	return out
}

// pieceLength is the largest length of a piece of a face, in the shortest wavelengths. Within a
// piece wave fronts count as plane. At five wavelengths from an element this causes an error of
// 1/40 of a period on each path.
const pieceLength = 1.0

// scale returns the factor from amplitudes in a section to amplitudes in the surroundings.
func (c *crack) scale(in, out Wave) float64 {
	if c.around.Dimension == wedge.Space {
		return lineToSpace(c.around.Part, in, out)
	}
	return 1
}

// lead returns the time, in s, by which the echo of a face is early. The face lies at a distance,
// in m, off the line between the ends, on the side from which in comes and to which out goes. If in
// and out are on different sides, lead returns 0.
func (c *crack) lead(in, out Wave, normal r3.Vec, distance float64) float64 {
	lit := facing(in, normal)
	if facing(reversed(out), normal) != lit {
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
	oneSided      bool    // the only face is on the side of the normal
}

// Centre implements [Scatterer].
func (p *piece) Centre() (r3.Vec, bool) { return p.middle, true }

// Scatter implements [Scatterer].
func (p *piece) Scatter(dst []complex128, in, out Wave) {
	c := p.crack
	lit := facing(in, p.normal) == p.normal && facing(reversed(out), p.normal) == p.normal
	if p.oneSided && !lit {
		clear(dst)
		return
	}
	amplitude := c.face.echo(wedge.Section, in, out, p.normal)
	amplitude *= complex(c.scale(in, out)*p.length, 0)
	slope := r3.Dot(r3.Sub(c.face.slowness(in), c.face.slowness(out)), p.along)
	lead := c.lead(in, out, p.normal, p.off)
	for k, f := range c.around.Frequencies {
		size := math.Sqrt(2*math.Pi*f) * number.Sinc(slope*p.length*f)
		dst[k] = amplitude * cmplx.Rect(size, -2*math.Pi*f*lead)
	}
}
