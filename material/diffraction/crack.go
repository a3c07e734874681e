// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package diffraction

import (
	"fmt"
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
)

// longest is the largest length of a Crack, in wavelengths of transverse waves.
const longest = 50

// Crack is the solution for plane waves at a straight, open crack of finite length in a solid, in
// two dimensions and for one frequency. [NewCrack] makes it. It is immutable and safe for
// concurrent use.
//
// It contains all waves between the tips, which the sum of two tips ([Tip]) lacks. It also holds
// for cracks shorter than a wavelength. The results of a zero Crack are NaN.
type Crack struct {
	tip        *Tip // the slownesses and tractions of the solid
	length     float64
	frequency  float64
	half       float64 // half the length, times the angular frequency, m/s
	normal     *opening
	tangential *opening
}

// NewCrack returns the solution for a crack of a length in m and a frequency in Hz. The length is
// above 0 and at most 50 wavelengths of transverse waves. A fluid, or a medium that is not valid,
// is an error. NewCrack takes about 2 ms for a length of five wavelengths of longitudinal waves.
func NewCrack(solid material.Isotropic, length, frequency float64) (*Crack, error) {
	tip, err := NewTip(solid)
	if err != nil {
		return nil, err
	}
	if !number.Positive(frequency) {
		return nil, fmt.Errorf("diffraction: frequency %v Hz: want a finite number above 0", frequency)
	}
	most := longest * solid.Transverse / frequency
	if !(length > 0 && length <= most) {
		return nil, fmt.Errorf("diffraction: length %v m: want a number above 0 and at most %v m, %d wavelengths of transverse waves",
			length, most, longest)
	}
	c := &Crack{tip: tip, length: length, frequency: frequency, half: math.Pi * frequency * length}
	c.normal, c.tangential, err = openings(tip.l*c.half, tip.t*c.half)
	return c, err
}

// Amplitude returns the scattering amplitude S of the crack for an incident wave of one mode and a
// scattered wave of the same or the other mode. At the distance r from the centre of the crack the
// scattered displacement is
//
//	u = u₀ · S · √(λ/r) · exp(ikr)
//
//	u₀   displacement of the incident wave at the centre of the crack
//	λ    wavelength of the scattered wave
//	k    2π/λ
//
// with the time factor exp(-iωt). The distance must be many wavelengths, and above the near-field
// length of the crack.
//
// The angles source and receiver are the directions from the centre to the source and to the
// receiver, in radians from the axis X along the crack, any finite value. The signs of L and T
// waves are the signs of [Tip.Coefficient]. Reciprocity relates the conversion of modes in both
// directions: S(L in, T out) = (cL/cT)²·S(T in, L out), with source and receiver exchanged.
func (c *Crack) Amplitude(in, out material.Mode, source, receiver float64) complex128 {
	if c.tip == nil {
		return cmplx.NaN()
	}
	return c.tip.radiate(in, out, source, receiver, c.jump)
}

// jump has the arguments and results of [Tip.Jump].
func (c *Crack) jump(s, s0, normal, shear float64) (x, y complex128) {
	scale := complex(0, math.Pi*c.half*c.half/c.tip.mu)
	sent, received := transforms(c.normal.n, s*c.half), transforms(c.normal.n, s0*c.half)
	x = scale * complex(shear, 0) * c.tangential.between(sent, received)
	y = scale * complex(normal, 0) * c.normal.between(sent, received)
	return x, y
}

// CrossSection returns the scattering cross-section of the crack, in m, for an incident wave of a
// mode from a source. The angle of the source is in radians from the crack, as in
// [Crack.Amplitude].
//
// The cross-section is the power that the crack scatters in both modes and all directions, for each
// metre along the tip, over the intensity of the incident wave. It is 2·length for a crack of many
// wavelengths at normal incidence. CrossSection uses the optical theorem: the wave that the crack
// scatters straight ahead takes the power from the incident wave.
func (c *Crack) CrossSection(in material.Mode, source float64) float64 {
	if c.tip == nil {
		return math.NaN()
	}
	wavelength := c.tip.medium.Speed(in) / c.frequency
	ahead := c.Amplitude(in, in, source, source+math.Pi)
	return -2 * wavelength * real(ahead*cmplx.Rect(1, math.Pi/4))
}
