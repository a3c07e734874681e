// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Reflector is anything in a part that echoes.
type Reflector interface {
	// Scatterers returns the points from which the reflector echoes, in an order
	// of its own. The error names the field at fault.
	Scatterers(Surroundings) ([]Scatterer, error)
}

// Surroundings is what a reflector lies in.
type Surroundings struct {
	Part        material.Isotropic
	Dimension   wedge.Dimension
	Frequencies []float64 // at which it is asked to scatter, in Hz, at least one, above 0 and ascending
}

// highest returns the highest frequency.
func (s Surroundings) highest() (float64, error) {
	n := len(s.Frequencies)
	if n == 0 || !positive(s.Frequencies[n-1]) {
		return 0, fmt.Errorf("synth: frequencies %v Hz of the surroundings: want at least one, finite and above 0", s.Frequencies)
	}
	return s.Frequencies[n-1], nil
}

// Scatterer scatters waves from one point. It is used by many goroutines at once.
type Scatterer interface {
	// Centre returns the point, in m: phases of scattered waves refer to it. One that
	// is endless runs along y, and y of its point has no meaning.
	Centre() (point r3.Vec, endless bool)
	// Scatter writes to dst, for each frequency of the surroundings, the displacement
	// of the wave out, times the distance (its square root in a Section), for a
	// displacement of 1 in the wave in: in √m in a Section, in m in space. The time
	// factor is exp(-iωt).
	Scatter(dst []complex128, in, out Wave)
}

// Wave is a wave at a scatterer.
type Wave struct {
	Mode         material.Mode
	Direction    r3.Vec // of travel, unit length
	Polarisation r3.Vec // the displacement that counts as positive, unit length
	// Radius is that of the wave front across the section of constant y, in m: of
	// a wave that leaves, the one which a wave back along its ray would have.
	Radius float64
}

// lineToSpace returns what a scatterer that is endless along y has in space for
// an amplitude of 1 in a section. It is the integral over its length by
// stationary phase, for a front that comes with one radius and is received with
// another: √(ρρ'/(ρ + ρ')) for waves of one speed.
func lineToSpace(part material.Isotropic, in, out Wave) float64 {
	a, b := part.Speed(in.Mode)*in.Radius, part.Speed(out.Mode)*out.Radius
	return math.Sqrt(a * b / (a + b) / part.Speed(out.Mode))
}

// Point is a reflector without size. It scatters alike at all frequencies, and
// each mode into itself alike in all directions; into the other mode with the
// sine of the angle by which it turns the wave, as reciprocity and symmetry ask
// of anything small and round.
type Point struct {
	Position r3.Vec  // in m, finite
	Strength float64 // amplitude at a distance of 1 m for an incident one of 1, finite; in m, in a Section in √m
}

// point is a Point in its surroundings.
type point struct {
	Point
	converted [2]float64 // of a wave of the mode into the other one
}

// Scatterers implements [Reflector].
func (p Point) Scatterers(around Surroundings) ([]Scatterer, error) {
	if err := checkPosition("position of the point", p.Position); err != nil {
		return nil, err
	}
	if !finite(p.Strength) {
		return nil, fmt.Errorf("synth: strength of the point %v: want a finite value", p.Strength)
	}
	out := &point{Point: p}
	if m := around.Part; !m.Fluid() {
		// So that T to L, weighed as elements receive both, equals L to T.
		ratio := math.Pow(m.Longitudinal/m.Transverse, receptionExponent(around.Dimension)/2)
		out.converted = [2]float64{material.L: -ratio, material.T: -1 / ratio}
	}
	return []Scatterer{out}, nil
}

// Centre implements [Scatterer].
func (p *point) Centre() (r3.Vec, bool) { return p.Position, false }

// Scatter implements [Scatterer].
func (p *point) Scatter(dst []complex128, in, out Wave) {
	strength := p.Strength
	if in.Mode == out.Mode {
		strength *= inSection(in) * inSection(out)
	} else {
		strength *= p.converted[in.Mode] * r3.Dot(in.Polarisation, out.Polarisation)
	}
	for k := range dst {
		dst[k] = complex(strength, 0)
	}
}

// inSection returns the share of a wave's displacement, with its sign, along the
// polarisation by which this package counts: the direction of travel for L, and
// for T that direction turned in the section of constant y by a quarter from x
// to z. Transverse displacement along y, horizontally polarised, is left out.
func inSection(w Wave) float64 {
	if w.Mode == material.L {
		return 1
	}
	q := r3.Vec{X: -w.Direction.Z, Z: w.Direction.X}
	if r3.Norm(q) == 0 { // along y
		q = r3.Vec{X: 1}
	}
	return r3.Dot(w.Polarisation, r3.Unit(q))
}

// checkDirection reports a vector that has no direction, or too long or short a one to
// reckon with its square.
func checkDirection(name string, v r3.Vec) error {
	if n := r3.Norm(v); !(n >= 1e-100 && n <= 1e100) {
		return fmt.Errorf("synth: %s %v: want a finite vector that is not zero, of length 1e-100 to 1e100", name, v)
	}
	return nil
}

func checkPosition(name string, p r3.Vec) error {
	if !finite(p.X) || !finite(p.Y) || !finite(p.Z) {
		return fmt.Errorf("synth: %s %v m: want finite coordinates", name, p)
	}
	return nil
}
