// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// A Medium tells how fast waves of the section x–z travel, by place and by
// direction. Coordinates y are not looked at.
//
// Implementations must be safe for concurrent use. Those of this package are.
type Medium interface {
	// Travel returns the time of a wave, not of a ray that bends, over a step (m,
	// not zero) as though the medium around at (m) went on unchanged: the length of
	// the step over the group speed of its direction. The time is the same for the
	// opposite step. It is NaN where the medium is not defined. Calls are made
	// with the three modes only.
	Travel(mode Mode, at, step r3.Vec) Travel
	// Wave returns the phase speed at a place (m) of the wave whose normal makes the
	// angle (rad) with +x, counted towards +z. It is smooth in both. The speed is
	// NaN where the medium is not defined. Calls are made with the three modes only.
	Wave(mode Mode, at r3.Vec, normal float64) Wave
	// Uniform reports whether Travel and Wave are the same everywhere, so that rays
	// are straight.
	Uniform() bool
}

// Travel is a time over a step and its derivatives.
type Travel struct {
	Time     float64 // s
	Slowness r3.Vec  // derivative of Time by the step: the phase slowness, s/m
	Place    r3.Vec  // derivative of Time by the place, s/m
}

// Wave is a phase speed and its derivatives.
type Wave struct {
	Speed   float64 // m/s
	ByAngle float64 // derivative by the angle of the normal, m/s
	Place   r3.Vec  // derivative by the place, 1/s
}

// isotropic is a uniform isotropic medium.
type isotropic struct{ slowness [modes]float64 }

// NewIsotropic returns the uniform medium m. A fluid has the time NaN for QSV and
// SH.
func NewIsotropic(m material.Isotropic) (Medium, error) {
	if err := m.Validate(); err != nil {
		return nil, fmt.Errorf("graded: %w", err)
	}
	return isotropic{slownesses(m)}, nil
}

// slownesses returns the slowness of each mode, NaN for one that m does not carry.
func slownesses(m material.Isotropic) [modes]float64 {
	across := math.NaN()
	if m.Transverse > 0 {
		across = 1 / m.Transverse
	}
	return [modes]float64{1 / m.Longitudinal, across, across}
}

// Travel implements [Medium].
func (m isotropic) Travel(mode Mode, _, step r3.Vec) Travel {
	length := math.Hypot(step.X, step.Z)
	slow := m.slowness[mode]
	return Travel{Time: slow * length, Slowness: r3.Scale(slow/length, r3.Vec{X: step.X, Z: step.Z})}
}

// Wave implements [Medium].
func (m isotropic) Wave(mode Mode, _ r3.Vec, _ float64) Wave {
	return Wave{Speed: 1 / m.slowness[mode]}
}

// Uniform implements [Medium].
func (m isotropic) Uniform() bool { return true }

// linear is an isotropic medium whose speeds vary linearly.
type linear struct {
	slowness [modes]float64
	origin   r3.Vec
	gradient r3.Vec
}

// NewLinear returns the isotropic medium in which both speeds are those of m
// times 1 + gradient·(p − origin) at the point p, as in a part with a gradient of
// temperature. The gradient is in 1/m, origin in m; both are finite with
// gradient.Y = 0. Where the factor is not above 0 the time is NaN.
func NewLinear(m material.Isotropic, origin, gradient r3.Vec) (Medium, error) {
	if err := m.Validate(); err != nil {
		return nil, fmt.Errorf("graded: %w", err)
	}
	if !finite(origin) {
		return nil, fmt.Errorf("graded: origin %v m: want finite coordinates", origin)
	}
	if !finite(gradient) || gradient.Y != 0 {
		return nil, fmt.Errorf("graded: gradient %v 1/m: want finite components, that of y 0", gradient)
	}
	return linear{slownesses(m), origin, gradient}, nil
}

// factor returns the factor of the speeds at a place.
func (m linear) factor(at r3.Vec) float64 {
	return 1 + (at.X-m.origin.X)*m.gradient.X + (at.Z-m.origin.Z)*m.gradient.Z
}

// Travel implements [Medium].
func (m linear) Travel(mode Mode, at, step r3.Vec) Travel {
	factor := m.factor(at)
	if !(factor > 0) {
		return Travel{Time: math.NaN()}
	}
	t := isotropic{m.slowness}.Travel(mode, at, step)
	t.Time /= factor
	t.Slowness = r3.Scale(1/factor, t.Slowness)
	t.Place = r3.Scale(-t.Time/factor, m.gradient)
	return t
}

// Wave implements [Medium].
func (m linear) Wave(mode Mode, at r3.Vec, _ float64) Wave {
	factor := m.factor(at)
	if !(factor > 0) {
		return Wave{Speed: math.NaN()}
	}
	return Wave{Speed: factor / m.slowness[mode], Place: r3.Scale(1/m.slowness[mode], m.gradient)}
}

// Uniform implements [Medium].
func (m linear) Uniform() bool { return m.gradient == r3.Vec{} }

// uniform is a crystal in one orientation.
type uniform struct {
	crystal *Crystal
	axis    float64
}

// NewUniform returns the medium of a crystal whose grain axis lies at the angle
// axis (rad, finite) from +x towards +z; at π/2 its own axes are those of the
// part.
func NewUniform(c *Crystal, axis float64) (Medium, error) {
	if c == nil {
		return nil, fmt.Errorf("graded: crystal is missing")
	}
	if math.IsNaN(axis) || math.IsInf(axis, 0) {
		return nil, fmt.Errorf("graded: angle of the grain axis %v rad: want a finite value", axis)
	}
	return uniform{c, axis}, nil
}

// Travel implements [Medium].
func (m uniform) Travel(mode Mode, _, step r3.Vec) Travel {
	time, slowness, _ := m.crystal.travel(mode, m.axis, step)
	return Travel{Time: time, Slowness: slowness}
}

// Wave implements [Medium].
func (m uniform) Wave(mode Mode, _ r3.Vec, normal float64) Wave {
	v, dv, _ := m.crystal.curves[mode].at(normal - m.axis)
	return Wave{Speed: v, ByAngle: dv}
}

// Uniform implements [Medium].
func (m uniform) Uniform() bool { return true }
