// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
)

// Medium gives the speeds of waves in the section x–z, by place and by direction. It ignores the
// coordinate y. Implementations must be safe for concurrent use, as the media of this package are.
//
// Bending uses Travel, by the direction of the energy. Shooting uses Phase, by the direction of the
// wave normal. A medium must give both for the same waves.
type Medium interface {
	// Travel returns the time over a straight step (m, not zero) in a medium that has everywhere
	// the properties of the place at (m). The time is the length of the step divided by the group
	// speed in the direction of the step. The opposite step takes the same time. The time is NaN
	// where the medium is not defined. The package calls Travel with the three polarisations only.
	Travel(pol Polarisation, at, step r3.Vec) Travel
	// Phase returns the phase speed at a place (m) of the wave whose normal makes the angle normal
	// (rad) with +x, counted towards +z. The speed is a smooth function of place and angle. It is
	// NaN where the medium is not defined. The package calls Phase with the three polarisations
	// only.
	Phase(pol Polarisation, at r3.Vec, normal float64) PhaseSpeed
	// Uniform reports whether Travel and Phase are the same everywhere, so that rays are straight.
	Uniform() bool
}

// Travel is a time over a step and its derivatives.
type Travel struct {
	Time     float64 // s
	Slowness r3.Vec  // derivative of Time by the step, which is the phase slowness, s/m
	Place    r3.Vec  // derivative of Time by the place, s/m
}

// PhaseSpeed is a phase speed and its derivatives.
type PhaseSpeed struct {
	Speed   float64 // m/s
	ByAngle float64 // derivative by the angle of the normal, m/s
	Place   r3.Vec  // derivative by the place, 1/s
}

// isotropic is a uniform isotropic medium.
type isotropic struct {
	solid    material.Isotropic
	slowness [polarisations]float64
}

// NewIsotropic returns the uniform medium m. In a fluid the times of transverse waves are NaN.
func NewIsotropic(m material.Isotropic) (Medium, error) {
	if err := m.Validate(); err != nil {
		return nil, fmt.Errorf("graded: %w", err)
	}
	return isotropic{m, slownesses(m)}, nil
}

// slownesses returns the slowness of each polarisation, NaN for a wave that m does not carry.
func slownesses(m material.Isotropic) [polarisations]float64 {
	across := math.NaN()
	if m.Transverse > 0 {
		across = 1 / m.Transverse
	}
	return [polarisations]float64{1 / m.Longitudinal, across, across}
}

// Travel implements [Medium].
func (m isotropic) Travel(pol Polarisation, _, step r3.Vec) Travel {
	length := math.Hypot(step.X, step.Z)
	slow := m.slowness[pol]
	return Travel{Time: slow * length, Slowness: r3.Scale(slow/length,
		r3.Vec{X: step.X, Z: step.Z})}
}

// Wave implements [Medium].
func (m isotropic) Phase(pol Polarisation, _ r3.Vec, _ float64) PhaseSpeed {
	return PhaseSpeed{Speed: 1 / m.slowness[pol]}
}

// Uniform implements [Medium].
func (m isotropic) Uniform() bool { return true }

// linear is an isotropic medium whose speeds vary linearly.
type linear struct {
	isotropic
	origin   r3.Vec
	gradient r3.Vec
}

// NewLinear returns an isotropic medium whose speeds vary linearly, as in a part with a gradient of
// temperature. Both speeds at the point p are the speeds of m times 1 + gradient·(p − origin). The
// gradient is in 1/m, the origin in m; both are finite, with gradient.Y = 0. Where the factor is
// not above 0 the time is NaN.
func NewLinear(m material.Isotropic, origin, gradient r3.Vec) (Medium, error) {
	if err := m.Validate(); err != nil {
		return nil, fmt.Errorf("graded: %w", err)
	}
	if !finite(origin) {
		return nil, fmt.Errorf("graded: origin %v m: want finite coordinates", origin)
	}
	if !finite(gradient) || gradient.Y != 0 {
		return nil, fmt.Errorf("graded: gradient %v 1/m: want finite components, 0 along y",
			gradient)
	}
	return linear{isotropic{m, slownesses(m)}, origin, gradient}, nil
}

// factor returns the factor of the speeds at a place.
func (m linear) factor(at r3.Vec) float64 {
	return 1 + (at.X-m.origin.X)*m.gradient.X + (at.Z-m.origin.Z)*m.gradient.Z
}

// Travel implements [Medium].
func (m linear) Travel(pol Polarisation, at, step r3.Vec) Travel {
	factor := m.factor(at)
	if !(factor > 0) {
		return Travel{Time: math.NaN()}
	}
	t := m.isotropic.Travel(pol, at, step)
	t.Time /= factor
	t.Slowness = r3.Scale(1/factor, t.Slowness)
	t.Place = r3.Scale(-t.Time/factor, m.gradient)
	return t
}

// Wave implements [Medium].
func (m linear) Phase(pol Polarisation, at r3.Vec, _ float64) PhaseSpeed {
	factor := m.factor(at)
	if !(factor > 0) {
		return PhaseSpeed{Speed: math.NaN()}
	}
	return PhaseSpeed{Speed: factor / m.slowness[pol], Place: r3.Scale(1/m.slowness[pol],
		m.gradient)}
}

// Uniform implements [Medium].
func (m linear) Uniform() bool { return m.gradient == r3.Vec{} }

// uniform is an anisotropic medium in one orientation.
type uniform struct {
	curves *SlownessCurves
	axis   float64
}

// NewUniform returns the anisotropic medium with the grain axis at the angle axis (rad, finite)
// from +x towards +z. For an axis of π/2 the axes of the material lie along the axes of the part.
func NewUniform(c *SlownessCurves, axis float64) (Medium, error) {
	if c == nil {
		return nil, fmt.Errorf("graded: slowness curves are missing")
	}
	if !number.Finite(axis) {
		return nil, fmt.Errorf("graded: angle of the grain axis %v rad: want a finite value", axis)
	}
	return uniform{c, axis}, nil
}

// Travel implements [Medium].
func (m uniform) Travel(pol Polarisation, _, step r3.Vec) Travel {
	time, slowness, _ := m.curves.travel(pol, m.axis, step)
	return Travel{Time: time, Slowness: slowness}
}

// Wave implements [Medium].
func (m uniform) Phase(pol Polarisation, _ r3.Vec, normal float64) PhaseSpeed {
	v, dv, _ := m.curves.curves[pol].at(normal - m.axis)
	return PhaseSpeed{Speed: v, ByAngle: dv}
}

// Uniform implements [Medium].
func (m uniform) Uniform() bool { return true }

// void is a zone that no wave enters.
type void struct{}

// Travel implements [Medium].
func (void) Travel(Polarisation, r3.Vec, r3.Vec) Travel { return Travel{Time: math.NaN()} }

// Phase implements [Medium].
func (void) Phase(Polarisation, r3.Vec, float64) PhaseSpeed { return PhaseSpeed{Speed: math.NaN()} }

// Uniform implements [Medium].
func (void) Uniform() bool { return true }
