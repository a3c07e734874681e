// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Reflector is an object in a part that echoes.
type Reflector interface {
	// Scatterers returns the points from which the reflector echoes, always in the same order. The
	// error names the field that is out of range.
	Scatterers(Surroundings) ([]Scatterer, error)
}

// Surroundings describes the part in which a reflector lies, and the frequencies of the waves.
type Surroundings struct {
	Part        material.Isotropic
	Dimension   wedge.Dimension
	Frequencies []float64 // in Hz, at least one, finite, above 0 and ascending
}

// highest returns the highest frequency in Hz.
func (s Surroundings) highest() (float64, error) {
	n := len(s.Frequencies)
	if n == 0 || !number.Positive(s.Frequencies[n-1]) {
		return 0, fmt.Errorf("synth: frequencies %v Hz of the surroundings: "+
			"want at least one, finite and above 0", s.Frequencies)
	}
	return s.Frequencies[n-1], nil
}

// Scatterer scatters waves from one point. Many goroutines call its methods at the same time.
type Scatterer interface {
	// Centre returns the point in m. The phases of scattered waves refer to this point. An endless
	// scatterer runs along y: the y of its point has no meaning.
	Centre() (point r3.Vec, endless bool)
	// Scatter writes the scattered amplitude to dst, one value for each frequency of the
	// surroundings. The wave in has a displacement of 1. The amplitude is the displacement of the
	// wave out times the distance, in m, or in a Section times the square root of the distance, in
	// √m. The time factor is exp(-iωt).
	Scatter(dst []complex128, in, out Wave)
}

// Wave is a wave at a scatterer.
type Wave struct {
	Mode         material.Mode
	Direction    r3.Vec // of travel, unit length
	Polarisation r3.Vec // direction of a positive displacement, unit length
	// Radius is the radius of the wave front across the section of constant y, in m. For a wave
	// that leaves the scatterer, it is the radius of a wave that comes back along the same ray.
	Radius float64
}

// lineToSpace returns the amplitude in space, in m, of a scatterer that is endless along y and has
// the amplitude 1 √m in a section. It is the integral over the length of the scatterer by
// stationary phase. For waves of one speed it is √(ρρ'/(ρ + ρ')), with the radii ρ and ρ' of both
// wave fronts.
func lineToSpace(part material.Isotropic, in, out Wave) float64 {
	a, b := part.Speed(in.Mode)*in.Radius, part.Speed(out.Mode)*out.Radius
	return math.Sqrt(a * b / (a + b) / part.Speed(out.Mode))
}

// Point is a reflector without size. Its amplitude does not depend on the frequency. It scatters
// each mode into the same mode equally in all directions. It scatters a mode into the other mode in
// proportion to the sine of the angle between both directions. Reciprocity and symmetry require
// this of each small round reflector.
type Point struct {
	Position r3.Vec // in m, finite
	// Strength is the amplitude at a distance of 1 m for an incident amplitude of 1: finite, in m,
	// or in √m in a Section.
	Strength float64
}

// point is a Point in its surroundings.
type point struct {
	Point
	converted [2]float64 // amplitude of the conversion of each mode into the other one
}

// Scatterers implements [Reflector].
func (p Point) Scatterers(around Surroundings) ([]Scatterer, error) {
	if err := checkPosition("position of the point", p.Position); err != nil {
		return nil, err
	}
	if !number.Finite(p.Strength) {
		return nil, fmt.Errorf("synth: strength of the point %v: want a finite value", p.Strength)
	}
	out := &point{Point: p}
	if m := around.Part; !m.Fluid() {
		// With the weights of reception, T to L must equal L to T.
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

// inSection returns the component of a wave's polarisation along the reference polarisation of this
// package. For L the reference is the direction of travel, and the component is 1. For T the
// reference is the direction of travel turned by 90° from x to z in the section of constant y.
// Horizontally polarised waves, with a displacement along y, have no component.
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

// checkDirection returns an error for a vector without a direction, and for a vector whose square
// overflows or underflows.
func checkDirection(name string, v r3.Vec) error {
	if n := r3.Norm(v); !(n >= 1e-100 && n <= 1e100) {
		return fmt.Errorf("synth: %s %v: want a finite vector of length 1e-100 to 1e100", name, v)
	}
	return nil
}

// checkPosition returns an error for a point with a coordinate that is not finite.
func checkPosition(name string, p r3.Vec) error {
	if !number.Finite(p.X) || !number.Finite(p.Y) || !number.Finite(p.Z) {
		return fmt.Errorf("synth: %s %v m: want finite coordinates", name, p)
	}
	return nil
}
