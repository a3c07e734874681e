// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Pit is a round pit in the back wall with a flat bottom. The echo of the bottom appears, and the
// echo of the part of the wall that is missing disappears, both by Kirchhoff's approximation. The
// side of the pit does not echo. Waves that have skipped off the wall do not see the pit.
//
// A pit that gets deeper in steps is several pits, one in the bottom of another. The Base of each
// is the Depth of the wider pit around it. Other pits must not overlap.
type Pit struct {
	X        float64 `json:"x_m"`        // of the middle, in m, finite
	S        float64 `json:"s_m"`        // of the middle along the scan, in m, finite
	Diameter float64 `json:"diameter_m"` // finite and above 0
	Depth    float64 `json:"depth_m"`    // from the back wall to the bottom, in m, above Base
	// Base is the depth in m at which the pit begins, 0 or above. It is 0 in the back wall.
	// Otherwise it is the depth of a wider pit whose bottom contains this one.
	Base float64 `json:"base_m,omitzero"`
}

// Span implements [Flaw].
func (p Pit) Span() (from, to float64) { return p.S - p.Diameter/2, p.S + p.Diameter/2 }

// depthAt returns the depth of the pit in m at x and s, 0 beside the pit.
func (p Pit) depthAt(x, s float64) float64 {
	if math.Hypot(x-p.X, s-p.S) > p.Diameter/2 {
		return 0
	}
	return p.Depth
}

// strips implements [Flaw]. The disc is divided into bands of constant x. The strip of a band is as
// long as the band is on average, so that their areas agree.
func (p Pit) strips(part *Part) ([]strip, error) {
	if !number.Finite(p.X) || !number.Finite(p.S) {
		return nil, fmt.Errorf("synth: middle of the pit x = %v, s = %v m: want finite values", p.X, p.S)
	}
	if !number.Positive(p.Diameter) {
		return nil, fmt.Errorf("synth: diameter of the pit %v m: want a finite value above 0", p.Diameter)
	}
	wall, err := part.Wall(p.X, p.S)
	if err != nil {
		return nil, err
	}
	if !(p.Depth > 0 && p.Depth < wall) {
		return nil, fmt.Errorf("synth: depth of the pit %v m: want more than 0, less than the wall of %v m", p.Depth, wall)
	}
	radius := p.Diameter / 2
	if !(p.Base >= 0 && p.Base < p.Depth) {
		return nil, fmt.Errorf("synth: base of the pit %v m: want 0 or more, less than its depth of %v m", p.Base, p.Depth)
	}
	bands := min(max(math.Ceil(radius/part.wavelength()), 3), 12)
	var out []strip
	for k := range int(bands) {
		inner, outer := radius*float64(k)/bands, radius*float64(k+1)/bands
		half := (circleArea(radius, outer) - circleArea(radius, inner)) / (outer - inner)
		for _, face := range [...]wallFace{
			{x: p.X, inner: inner, outer: outer, z: wall - p.Depth, sign: 1},
			{x: p.X, inner: inner, outer: outer, z: wall - p.Base, sign: -1},
		} {
			out = append(out, strip{
				reflectors: []Reflector{face}, from: p.S - half, to: p.S + half,
				centre: r3.Vec{X: p.X, Z: face.z}, size: outer, ring: 2 / part.Scene.Array.CentreFrequency,
			})
		}
	}
	return out, nil
}

// circleArea returns the area in the quarter of a circle of the given radius from the axis to a
// distance d from it.
func circleArea(radius, d float64) float64 {
	d = min(d, radius)
	return (d*math.Sqrt((radius-d)*(radius+d)) + radius*radius*math.Asin(d/radius)) / 2
}

// wallFace is the reflector of two bands of a wall, at equal distances on both sides of x.
type wallFace struct {
	x, inner, outer float64 // of the bands, m
	z               float64 // m
	sign            float64 // -1 for a wall that is missing
}

// Scatterers implements [Reflector].
func (w wallFace) Scatterers(around Surroundings) ([]Scatterer, error) {
	f, err := newFace(around.Part)
	if err != nil {
		return nil, err
	}
	highest, err := around.highest()
	if err != nil {
		return nil, err
	}
	n := math.Ceil((w.outer - w.inner) / pieceLength * highest / around.Part.Transverse)
	if n > 1e4 {
		return nil, fmt.Errorf("synth: pit of %v m: want up to 10000 of the shortest wavelengths", w.outer)
	}
	of := &crack{around: around, face: f}
	width := (w.outer - w.inner) / n
	var out []Scatterer
	for i := range int(n) {
		for _, side := range [...]float64{-1, 1} {
			x := w.x + side*(w.inner+(float64(i)+0.5)*width)
			out = append(out, signed{&piece{
				crack: of, middle: r3.Vec{X: x, Z: w.z}, along: r3.Vec{X: 1}, normal: r3.Vec{Z: -1},
				length: width, oneSided: true,
			}, w.sign})
		}
	}
	return out, nil
}

// signed is a scatterer with a factor.
type signed struct {
	Scatterer
	sign float64
}

// Scatter implements [Scatterer].
func (s signed) Scatter(dst []complex128, in, out Wave) {
	s.Scatterer.Scatter(dst, in, out)
	for k := range dst {
		dst[k] *= complex(s.sign, 0)
	}
}
