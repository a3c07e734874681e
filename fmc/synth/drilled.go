// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Drilled is a side-drilled hole along the scan that begins and ends, see [Hole]. Its flat ends do
// not echo.
type Drilled struct {
	X        float64 `json:"x_m"`        // of the axis, in m, finite
	Z        float64 `json:"z_m"`        // depth of the axis, in m, finite
	Diameter float64 `json:"diameter_m"` // in m, see [Hole]
	From     float64 `json:"from_m"`     // position along the scan, in m, finite, below To
	To       float64 `json:"to_m"`       // position along the scan, in m, finite
}

// Span implements [Flaw].
func (d Drilled) Span() (from, to float64) { return d.From, d.To }

// strips implements [Flaw].
func (d Drilled) strips(part *Part) ([]strip, error) {
	if err := checkSpan("drilled hole", d.From, d.To); err != nil {
		return nil, err
	}
	return []strip{{
		reflectors: []Reflector{Hole{X: d.X, Z: d.Z, Diameter: d.Diameter}}, from: d.From, to: d.To,
		centre: r3.Vec{X: d.X, Z: d.Z},
		size:   d.Diameter / 2,
		// A wave that creeps round the hole is slower than the transverse wave.
		ring: 2*d.Diameter/part.Scene.Setup.Part.Transverse + 6/part.Scene.Array.CentreFrequency,
	}}, nil
}

// Pores is a cluster of spherical pores at random positions. The same fields give the same pores.
type Pores struct {
	// X, S and Z are the middle of the cluster, in m, finite: S along the scan, Z in depth.
	X float64 `json:"x_m"`
	S float64 `json:"s_m"`
	Z float64 `json:"z_m"`
	// Width, Length and Height are the size of the cluster along x, s and z in m, finite, 0 or
	// above. The cluster is an ellipsoid.
	Width  float64 `json:"width_m"`
	Length float64 `json:"length_m"`
	Height float64 `json:"height_m"`
	Count  int     `json:"count"` // of the pores, 1 to 1000
	// Smallest and Largest are the limits of the diameters in m: finite, above 0. Diameters are
	// uniformly distributed. See [Sphere].
	Smallest float64 `json:"smallest_m"`
	Largest  float64 `json:"largest_m"`
	Seed     uint64  `json:"seed"`
}

// validate reports the first field that is out of range.
func (p Pores) validate() error {
	for _, v := range [...]float64{p.X, p.S, p.Z} {
		if !number.Finite(v) {
			return fmt.Errorf("synth: middle of the pores %v m: want finite values", v)
		}
	}
	for _, v := range [...]float64{p.Width, p.Length, p.Height} {
		if !(v >= 0) || !number.Finite(v) {
			return fmt.Errorf("synth: size of the cluster of pores %v m: want a finite value of 0 or above", v)
		}
	}
	if p.Count < 1 || p.Count > 1000 {
		return fmt.Errorf("synth: %d pores: want 1 to 1000", p.Count)
	}
	if !number.Positive(p.Smallest) || !number.Positive(p.Largest) || p.Smallest > p.Largest {
		return fmt.Errorf("synth: diameters of the pores from %v to %v m: want finite ascending values above 0",
			p.Smallest, p.Largest)
	}
	return nil
}

// Span implements [Flaw].
func (p Pores) Span() (from, to float64) { return p.S - p.Length/2, p.S + p.Length/2 }

// Spheres returns the pores. The y of a position is the position along the scan.
func (p Pores) Spheres() []Sphere {
	random := rand.New(rand.NewPCG(p.Seed, 1))
	out := make([]Sphere, 0, max(p.Count, 0))
	for range p.Count {
		// Uniform in a ball: a random direction, and the cube root for the radius.
		v := r3.Vec{X: random.NormFloat64(), Y: random.NormFloat64(), Z: random.NormFloat64()}
		v = r3.Scale(math.Cbrt(random.Float64())/max(r3.Norm(v), math.SmallestNonzeroFloat64), v)
		out = append(out, Sphere{
			Position: r3.Vec{X: p.X + v.X*p.Width/2, Y: p.S + v.Y*p.Length/2, Z: p.Z + v.Z*p.Height/2},
			Diameter: p.Smallest + random.Float64()*(p.Largest-p.Smallest),
		})
	}
	return out
}

// strips implements [Flaw].
func (p Pores) strips(part *Part) ([]strip, error) {
	if err := p.validate(); err != nil {
		return nil, err
	}
	var out []strip
	for _, sphere := range p.Spheres() {
		s := sphere.Position.Y
		sphere.Position.Y = part.Scene.Array.Elements[0].Y
		out = append(out, strip{
			reflectors: []Reflector{sphere}, from: s, to: s,
			centre: sphere.Position,
			size:   sphere.Diameter / 2,
			ring:   2 / part.Scene.Array.CentreFrequency,
		})
	}
	return out, nil
}
