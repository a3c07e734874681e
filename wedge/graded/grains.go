// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"
)

// A Grain is the state of the grains at a place, with its derivatives by x and z
// (those by y are 0).
type Grain struct {
	Angle         float64 // of the grain axis, rad from +x towards +z; a half turn changes nothing
	AngleGradient r3.Vec  // rad/m

	// Factor multiplies all speeds, as stiffnesses that are Factor² times
	// those of the crystal would: 1 for the crystal itself.
	Factor         float64
	FactorGradient r3.Vec // 1/m
}

// A Texture gives the grains of a weld by place. Implementations must be safe for
// concurrent use, smooth, and defined a little beyond the weld.
type Texture interface {
	At(p r3.Vec) Grain
}

// grains is a crystal that is turned, and stiffened, from place to place.
type grains struct {
	crystal *Crystal
	texture Texture
}

// NewGrains returns the medium of a crystal whose axis, and speeds, follow the
// texture.
func NewGrains(c *Crystal, t Texture) (Medium, error) {
	if c == nil || t == nil {
		return nil, fmt.Errorf("graded: grains: want a crystal and a texture")
	}
	return grains{c, t}, nil
}

// Travel implements [Medium].
func (m grains) Travel(mode Mode, at, step r3.Vec) Travel {
	g := m.texture.At(at)
	time, slowness, byAxis := m.crystal.travel(mode, g.Angle, step)
	scale := 1 / g.Factor
	time *= scale
	return Travel{
		Time:     time,
		Slowness: r3.Scale(scale, slowness),
		Place:    r3.Sub(r3.Scale(scale*byAxis, g.AngleGradient), r3.Scale(time*scale, g.FactorGradient)),
	}
}

// Wave implements [Medium].
func (m grains) Wave(mode Mode, at r3.Vec, normal float64) Wave {
	g := m.texture.At(at)
	v, dv, _ := m.crystal.curves[mode].at(normal - g.Angle)
	return Wave{
		Speed:   g.Factor * v,
		ByAngle: g.Factor * dv,
		Place:   r3.Sub(r3.Scale(v, g.FactorGradient), r3.Scale(g.Factor*dv, g.AngleGradient)),
	}
}

// Uniform implements [Medium].
func (m grains) Uniform() bool { return false }
