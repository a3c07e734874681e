// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// block is an invented part in contact with an array, with small holes.
type block struct {
	elements  int
	pitch     float64  // m
	frequency float64  // Hz
	rate      float64  // of samples, Hz
	speed     float64  // m/s
	holes     []r3.Vec // axes, m
	radius    float64  // of the holes, m; 0 for points
	noise     float64  // standard deviation, as a share of the echo of a hole
	delay     float64  // standard deviation of the delay of an element, s
	seed      uint64
}

// steel is a block in which 16 elements see one point at a depth of about an aperture.
var steel = block{elements: 16, pitch: 0.8e-3, frequency: 4e6, rate: 25e6, speed: 5900,
	holes: []r3.Vec{{X: 1e-3, Z: 15e-3}}}

// capture returns the capture of a block. The path over a hole is the least over its face, by brute
// force and the golden section.
func (b block) capture() *fmc.Capture {
	array := check.Must(fmc.LinearArray(b.elements, b.pitch,
		fmc.Array{Width: b.pitch / 2, CentreFrequency: b.frequency, Bandwidth: 0.6}))
	shallow, deep := math.Inf(1), 0.0
	for _, h := range b.holes {
		shallow, deep = min(shallow, h.Z), max(deep, h.Z)
	}
	begin, end := 1.3*shallow/b.speed, 2.9*deep/b.speed+2e-6
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(b.elements),
		Samples: int((end - begin) * b.rate), SampleRate: b.rate, FirstSample: begin}))
	random := rand.New(rand.NewPCG(b.seed, 2))
	delays := make([]float64, b.elements)
	for i := range delays {
		delays[i] = b.delay * random.NormFloat64()
	}
	for p, pair := range c.Pairs {
		trace := c.Data[p*c.Samples : (p+1)*c.Samples]
		for _, h := range b.holes {
			length := over(array.Elements[pair.Tx], array.Elements[pair.Rx], h, b.radius)
			addPulse(c, trace, length/b.speed+delays[pair.Tx]+delays[pair.Rx], 1)
		}
		for k := range trace {
			trace[k] += float32(b.noise * random.NormFloat64())
		}
	}
	return c
}

// over returns the least length of a path from a to b over the face of a hole.
func over(a, b, axis r3.Vec, radius float64) float64 {
	length := func(angle float64) float64 {
		sin, cos := math.Sincos(angle)
		q := r3.Add(axis, r3.Vec{X: radius * sin, Z: -radius * cos})
		return r3.Norm(r3.Sub(q, a)) + r3.Norm(r3.Sub(q, b))
	}
	if radius == 0 {
		return length(0)
	}
	return length(golden(-1.2, 1.2, 1e-7, length)) // the face that the elements see has one minimum
}

// setup returns the set-up of the block.
func (b block) setup() *wedge.Setup {
	return check.Must(wedge.NewPlate(nil, material.Isotropic{Density: 7800, Longitudinal: b.speed, Transverse: b.speed / 1.83}, 100e-3))
}

// regions returns the surroundings of the holes.
func (b block) regions() (regions []tfm.Grid) {
	step := b.speed / b.frequency / 8
	for _, h := range b.holes {
		regions = append(regions, check.Must(tfm.NewSection(h.X-6*step, h.X+6*step, 0.74*h.Z, 1.26*h.Z, step)))
	}
	return regions
}

// focus finds the speed of the block.
func (b block) focus(t testing.TB, options *FocusOptions) *Focused {
	t.Helper()
	c := b.capture()
	f, err := Focus(t.Context(), c, "L-L", b.regions(), PartSpeed(b.setup(), c.Array.Elements, material.L),
		wedge.Interval{Min: 0.8 * b.speed, Max: 1.2 * b.speed}, options)
	if err != nil {
		t.Fatal(err)
	}
	return f
}
