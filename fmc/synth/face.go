// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// face is a free plane inside the part: its traction is 0.
type face struct {
	part    material.Isotropic
	surface material.Boundary
}

// motion is the complex displacement of a point of a face.
type motion struct {
	along, normal      r3.Vec // unit vectors
	tangential, across complex128
}

// dot returns the scalar product of m and a real vector.
func (m motion) dot(v r3.Vec) complex128 {
	return m.tangential*complex(r3.Dot(m.along, v), 0) + m.across*complex(r3.Dot(m.normal, v), 0)
}

// newFace returns a face in a solid part.
func newFace(part material.Isotropic) (face, error) {
	if part.Fluid() {
		return face{}, fmt.Errorf("synth: reflector with a face in a fluid: want a solid part")
	}
	surface, err := material.NewFreeSurface(part)
	if err != nil {
		return face{}, fmt.Errorf("synth: %w", err)
	}
	return face{part, surface}, nil
}

// motion returns the displacement of an endless face under an incident plane wave with a
// displacement of 1. It is the sum of the wave and its reflections, by plane-wave theory. The
// normal points to the side from which the wave comes.
func (f face) motion(in Wave, normal r3.Vec) motion {
	cos := min(1, -r3.Dot(in.Direction, normal))
	m := motion{normal: normal, along: tangential(in.Direction, normal)}
	if m.along == (r3.Vec{}) {
		m.along = tangential(in.Polarisation, normal)
	}
	scattered, err := f.surface.Scatter(in.Mode, math.Acos(max(0, cos)))
	if err != nil {
		return m // unreachable: mode and angle are in range
	}
	// The frame is the frame of material.Boundary: z points into the face.
	sin := r3.Dot(in.Direction, m.along)
	x, z, sign := sin, cos, 1.0
	if in.Mode == material.T {
		x, z = cos, -sin
		sign = r3.Dot(in.Polarisation, r3.Add(r3.Scale(cos, m.along), r3.Scale(sin, normal)))
	}
	s := sin / f.part.Speed(in.Mode)
	sl, cl := slanted(s * f.part.Longitudinal)
	st, ct := slanted(s * f.part.Transverse)
	reflected := scattered.Displacement.Reflected
	l, t := reflected[material.L], reflected[material.T]
	m.tangential = (complex(x, 0) + l*sl + t*ct) * complex(sign, 0)
	m.across = -(complex(z, 0) - l*cl + t*st) * complex(sign, 0)
	return m
}

// slanted returns the sine and the cosine of an angle with the given sine. For a sine above 1 it
// returns the imaginary cosine of an evanescent wave.
func slanted(sin float64) (s, c complex128) {
	return complex(sin, 0), cmplx.Sqrt(complex((1-sin)*(1+sin), 0))
}

// tangential returns the direction of the component of v along a face, or a zero vector if v has no
// such component.
func tangential(v, normal r3.Vec) r3.Vec {
	along := r3.Sub(v, r3.Scale(r3.Dot(v, normal), normal))
	if !(r3.Norm(along) > 1e-9) {
		return r3.Vec{}
	}
	return r3.Unit(along)
}

// traction returns the traction of a wave on a plane of the given normal, divided by the
// displacement of the wave and by ik, with its wave number k.
func (f face) traction(w Wave, normal r3.Vec) r3.Vec {
	mu := f.part.Density * f.part.Transverse * f.part.Transverse
	lambda := f.part.Density*f.part.Longitudinal*f.part.Longitudinal - 2*mu
	return r3.Add(
		r3.Scale(lambda*r3.Dot(w.Polarisation, w.Direction), normal),
		r3.Scale(mu, r3.Add(
			r3.Scale(r3.Dot(w.Direction, normal), w.Polarisation),
			r3.Scale(r3.Dot(w.Polarisation, normal), w.Direction))),
	)
}

// factor returns the number c in the amplitude
//
//	c·ωⁿ·∫ [u]·t·exp(-ik·d·x) dx
//
// of the wave that a jump [u] of the displacement across a face sends to the far field:
//
//	t   traction of the wave, as [face.traction] returns it
//	k   wave number
//	d   direction of the wave
//	x   position on the face
//	n   ½ in a section, 1 in space
//
// The normal points to the side whose displacement is positive in [u]. The formula follows from the
// representation theorem (Aki and Richards, Quantitative Seismology, 2nd ed. 2002, section 3.1,
// from memory) and the far field of Green's function.
func (f face) factor(d wedge.Dimension, m material.Mode) complex128 {
	c := f.part.Speed(m)
	if d == wedge.Section {
		return cmplx.Rect(math.Sqrt(2/(math.Pi*c))/(4*f.part.Density*c*c), -math.Pi/4)
	}
	return complex(0, -1/(4*math.Pi*f.part.Density*c*c*c))
}

// echo returns c·[u]·t of a face, see [face.factor], by Kirchhoff's approximation: each point of
// the lit side moves as a point of an endless face, and the other side does not move. Away from the
// specular direction, the approximation is not reciprocal. Therefore echo returns the mean of both
// directions of travel.
func (f face) echo(d wedge.Dimension, in, out Wave, normal r3.Vec) complex128 {
	one := func(in, out Wave) complex128 {
		lit := facing(in, normal)
		return f.factor(d, out.Mode) * f.motion(in, lit).dot(f.traction(out, lit))
	}
	ratio := math.Pow(f.part.Speed(in.Mode)/f.part.Speed(out.Mode), receptionExponent(d))
	return (one(in, out) + complex(ratio, 0)*one(reversed(out), reversed(in))) / 2
}

// reversed returns the wave that travels in the opposite direction.
func reversed(w Wave) Wave {
	w.Direction, w.Polarisation = r3.Scale(-1, w.Direction), r3.Scale(-1, w.Polarisation)
	return w
}

// facing returns the normal of a face that points to the side from which a wave comes.
func facing(in Wave, normal r3.Vec) r3.Vec {
	if r3.Dot(in.Direction, normal) > 0 {
		return r3.Scale(-1, normal)
	}
	return normal
}

// slowness returns the slowness vector of a wave, in s/m.
func (f face) slowness(w Wave) r3.Vec { return r3.Scale(1/f.part.Speed(w.Mode), w.Direction) }
