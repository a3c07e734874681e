// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"
)

// Grain is the state of the grains at a place, with its derivatives by x and z. Derivatives by y
// are 0.
type Grain struct {
	Angle         float64 // of the grain axis, rad from +x towards +z; a half turn changes nothing
	AngleGradient r3.Vec  // rad/m
	// Factor multiplies all speeds: 1 leaves the speeds of the slowness curves. It has the effect
	// of stiffnesses that are multiplied by Factor².
	Factor         float64
	FactorGradient r3.Vec // 1/m
}

// Texture gives the grains of a weld by place. Implementations must be safe for concurrent use,
// smooth, and defined a little beyond the weld.
type Texture interface {
	At(p r3.Vec) Grain // p in m
}

// grains is a medium whose grain axis and speeds change with the place.
type grains struct {
	curves  *SlownessCurves
	texture Texture
}

// NewGrains returns the medium whose grain axis, and whose speeds, follow the texture.
func NewGrains(c *SlownessCurves, t Texture) (Medium, error) {
	if c == nil || t == nil {
		return nil, fmt.Errorf("graded: grains: want slowness curves and a texture")
	}
	return grains{c, t}, nil
}

// Travel implements [Medium].
func (m grains) Travel(pol Polarisation, at, step r3.Vec) Travel {
	g := m.texture.At(at)
	time, slowness, byAxis := m.curves.travel(pol, g.Angle, step)
	scale := 1 / g.Factor
	time *= scale
	byFactor := r3.Scale(time*scale, g.FactorGradient)
	return Travel{
		Time:     time,
		Slowness: r3.Scale(scale, slowness),
		Place:    r3.Sub(r3.Scale(scale*byAxis, g.AngleGradient), byFactor),
	}
}

// Phase implements [Medium].
func (m grains) Phase(pol Polarisation, at r3.Vec, normal float64) PhaseSpeed {
	g := m.texture.At(at)
	v, dv, _ := m.curves.curves[pol].at(normal - g.Angle)
	byAngle := r3.Scale(g.Factor*dv, g.AngleGradient)
	return PhaseSpeed{
		Speed:   g.Factor * v,
		ByAngle: g.Factor * dv,
		Place:   r3.Sub(r3.Scale(v, g.FactorGradient), byAngle),
	}
}

// Uniform implements [Medium].
func (m grains) Uniform() bool { return false }

// crystal is the medium of the grains at one place, without the derivatives by the place.
type crystal struct {
	uniform
	factor float64
}

// Phase implements [Medium].
func (m crystal) Phase(pol Polarisation, at r3.Vec, normal float64) PhaseSpeed {
	w := m.uniform.Phase(pol, at, normal)
	return PhaseSpeed{Speed: m.factor * w.Speed, ByAngle: m.factor * w.ByAngle}
}

// local returns a medium that is faster where many directions at one place are needed. Its phase
// speeds at the place are the phase speeds of m.
func local(m Medium, at r3.Vec) Medium {
	switch m := m.(type) {
	case grains:
		grain := m.texture.At(at)
		return crystal{uniform{m.curves, grain.Angle}, grain.Factor}
	case oneWave:
		return oneWave{local(m.Medium, at), m.pol}
	}
	return m
}
