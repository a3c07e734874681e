// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"
)

// The random solids of the property tests are invented. The comment of each generator gives its
// ranges.

// randomDirection returns a unit vector with a uniform distribution over the sphere.
func randomDirection(rng *rand.Rand) r3.Vec {
	return r3.Unit(r3.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()})
}

// randomRotation returns a rotation about a random axis.
func randomRotation(rng *rand.Rand) r3.Rotation {
	return r3.NewRotation(rng.Float64()*2*math.Pi, randomDirection(rng))
}

// randomCubic returns a cubic crystal with an anisotropy factor
// 2·C44/(C11 − C12) from 0.3 to 4, on random axes. Common metals have factors from 1 to 3.6.
func randomCubic(rng *rand.Rand) Anisotropic {
	c44 := (20 + 100*rng.Float64()) * 1e9
	factor := 0.3 + 3.7*rng.Float64()
	difference := 2 * c44 / factor
	c12 := (0.2 + 2*rng.Float64()) * difference
	return turned(rng, Cubic{C11: c12 + difference, C12: c12, C44: c44}.Stiffness())
}

// randomTransverse returns a transversely isotropic solid on random axes. Its constants have the
// ranges of hexagonal metals and weld metal.
func randomTransverse(rng *rand.Rand) Anisotropic {
	for {
		c := TransverselyIsotropic{
			C11: (150 + 150*rng.Float64()) * 1e9,
			C12: (30 + 100*rng.Float64()) * 1e9,
			C13: (30 + 110*rng.Float64()) * 1e9,
			C33: (60 + 250*rng.Float64()) * 1e9,
			C44: (35 + 95*rng.Float64()) * 1e9,
		}.Stiffness()
		if c.Validate() == nil {
			return turned(rng, c)
		}
	}
}

// randomOrthotropic returns an orthotropic solid on random axes.
func randomOrthotropic(rng *rand.Rand) Anisotropic {
	between := func(low, high float64) float64 { return (low + (high-low)*rng.Float64()) * 1e9 }
	for {
		c := Orthotropic{
			C11: between(100, 300), C22: between(100, 300), C33: between(100, 300),
			C12: between(30, 120), C13: between(30, 120), C23: between(30, 120),
			C44: between(40, 120), C55: between(40, 120), C66: between(40, 120),
		}.Stiffness()
		if c.Validate() == nil {
			return turned(rng, c)
		}
	}
}

// randomTriclinic returns a solid with all 21 constants: the isotropic steel of
// 8000 kg/m³ with a random positive definite part added that is up to as large
// as its shear stiffness.
func randomTriclinic(rng *rand.Rand) Anisotropic {
	c := Cubic{C11: 270e9, C12: 110e9, C44: 80e9}.Stiffness()
	var factor Stiffness
	for i := range factor {
		for j := range factor[i] {
			factor[i][j] = rng.NormFloat64()
		}
	}
	scale := rng.Float64() * 80e9 / 6
	for i := range c {
		for j := range c {
			for k := range c {
				c[i][j] += scale * factor[i][k] * factor[j][k]
			}
		}
	}
	return Anisotropic{8000, c}
}

// turned returns a solid of c at a random density and on random axes.
func turned(rng *rand.Rand, c Stiffness) Anisotropic {
	out, err := c.Rotate(randomRotation(rng))
	if err != nil {
		panic(err) // a fault of the test: a random rotation is a rotation
	}
	return Anisotropic{2000 + 8000*rng.Float64(), out}
}

// randomSolids are the generators, for tables of tests.
var randomSolids = []struct {
	name string
	make func(*rand.Rand) Anisotropic
}{
	{"cubic", randomCubic},
	{"transversely isotropic", randomTransverse},
	{"orthotropic", randomOrthotropic},
	{"triclinic", randomTriclinic},
}
