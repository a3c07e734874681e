// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// tip is the end of a crack. Its amplitude is the exact amplitude of a tip less the amplitude of
// the end of a face by Kirchhoff's approximation. The pieces of the face already contain the second
// one.
type tip struct {
	crack  *crack
	at     r3.Vec
	along  r3.Vec // unit vector from the tip along the crack
	normal r3.Vec // of the crack, either side
}

// Centre implements [Scatterer].
func (t *tip) Centre() (r3.Vec, bool) { return t.at, true }

// Scatter implements [Scatterer].
func (t *tip) Scatter(dst []complex128, in, out Wave) {
	c := t.crack
	s0 := r3.Dot(c.face.slowness(in), t.along)
	s := r3.Dot(c.face.slowness(out), t.along)
	// Towards the specular direction, s = s0, both amplitudes diverge. Their difference has a
	// limit.
	if least := 1e-4 * 1 / c.face.part.Transverse; math.Abs(s-s0) < least {
		s = s0 + math.Copysign(least, -s0)
	}
	amplitude := c.diffracted(in, out, t.normal, t.along, s, s0)
	edge := complex(0, -1/(s-s0)) // the integral of exp(i(s0 - s)X) over X from 0 on
	amplitude -= c.face.echo(wedge.Section, in, out, t.normal) * edge
	amplitude *= complex(c.scale(in, out), 0)
	lead := c.lead(in, out, t.normal, c.Width/2)
	for k, f := range c.around.Frequencies {
		dst[k] = amplitude * cmplx.Rect(1/math.Sqrt(2*math.Pi*f), -2*math.Pi*f*lead)
	}
}

// diffracted returns the exact amplitude of the tip of an endless crack, divided by ω^-½. The
// incident wave has the slowness s0 along the crack, the scattered wave the slowness s.
func (c *crack) diffracted(in, out Wave, normal, along r3.Vec, s, s0 float64) complex128 {
	normal = facing(in, normal)
	stress := r3.Scale(1/c.face.part.Speed(in.Mode), c.face.traction(in, normal))
	x, y := c.tips.Jump(s, s0, r3.Dot(stress, normal), r3.Dot(stress, along))
	sent := c.face.traction(out, normal)
	work := x*complex(r3.Dot(sent, along), 0) + y*complex(r3.Dot(sent, normal), 0)
	return c.face.factor(wedge.Section, out.Mode) * work
}
