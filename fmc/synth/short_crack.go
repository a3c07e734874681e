// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material/diffraction"
	"github.com/isochron-imaging/isochron/wedge"
)

// ShortCrack is a plane open crack, empty and endless along y. It scatters by the exact solution
// for plane elastic waves at a crack of finite length ([diffraction.Crack]). The solution contains
// the waves that run from tip to tip, which [Crack] lacks, and holds for cracks below a wavelength.
//
// A ShortCrack echoes from its centre as a whole. So the array should be farther away than the
// near-field length of the crack: a quarter of the squared length over the wavelength. In space, it
// echoes from one point along y, as a [Hole] does. It takes some microseconds for a pair, a view
// and a frequency: more than the other reflectors.
type ShortCrack struct {
	// From and To are the ends in m: finite and distinct, y is 0. Their distance is at most 50 of
	// the shortest wavelengths of transverse waves in the pulse. Crack is the better model above
	// about 5 wavelengths.
	From, To r3.Vec
}

// shortCrack is a ShortCrack in its surroundings.
type shortCrack struct {
	ShortCrack
	around    Surroundings
	solutions []*diffraction.Crack // at each frequency
}

// Scatterers implements [Reflector].
func (c ShortCrack) Scatterers(around Surroundings) ([]Scatterer, error) {
	straight := Crack{From: c.From, To: c.To}
	if err := straight.validate(); err != nil {
		return nil, err
	}
	if _, err := around.highest(); err != nil {
		return nil, err
	}
	out := &shortCrack{ShortCrack: c, around: around, solutions: make([]*diffraction.Crack, len(around.Frequencies))}
	for k, f := range slices.Backward(around.Frequencies) { // a crack that is too long fails at once
		solution, err := diffraction.NewCrack(around.Part, straight.length(), f)
		if err != nil {
			return nil, fmt.Errorf("synth: short crack from %v to %v m: %w", c.From, c.To, err)
		}
		out.solutions[k] = solution
	}
	return []Scatterer{out}, nil
}

// Centre implements [Scatterer].
func (c *shortCrack) Centre() (r3.Vec, bool) {
	return r3.Scale(0.5, r3.Add(c.From, c.To)), true
}

// Scatter implements [Scatterer].
func (c *shortCrack) Scatter(dst []complex128, in, out Wave) {
	scale := inSection(in) * inSection(out)
	if c.around.Dimension == wedge.Space {
		scale *= lineToSpace(c.around.Part, in, out)
	}
	source, receiver := c.angle(r3.Scale(-1, in.Direction)), c.angle(out.Direction)
	for k, f := range c.around.Frequencies {
		root := math.Sqrt(c.around.Part.Speed(out.Mode) / f) // of the wavelength
		dst[k] = c.solutions[k].Amplitude(in.Mode, out.Mode, source, receiver) * complex(scale*root, 0)
	}
}

// angle returns the angle of a direction from the crack, from x to z.
func (c *shortCrack) angle(direction r3.Vec) float64 {
	along := r3.Sub(c.To, c.From)
	return math.Atan2(direction.Z, direction.X) - math.Atan2(along.Z, along.X)
}
