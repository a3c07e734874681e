// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"
)

// Cloud is many point reflectors at random places in a box: porosity, slag,
// or, spread over the whole part and weak, the noise of the grains. It stays
// where it is: the same seed gives the same points, so that averaging does not
// take the noise away, which moves with the array over the part.
type Cloud struct {
	From, To r3.Vec // opposite corners of the box in m, finite, in the part; one y in a Section
	Points   int    // 1 to 1e6
	// Strength is the standard deviation of the points' strengths, which are normally
	// distributed about 0, in the unit of those of a [Point], finite.
	Strength float64
	Seed     uint64
}

// Scatterers implements [Reflector].
func (c Cloud) Scatterers(around Surroundings) ([]Scatterer, error) {
	for _, corner := range [...]r3.Vec{c.From, c.To} {
		if err := checkPosition("corner of the cloud", corner); err != nil {
			return nil, err
		}
	}
	if c.Points < 1 || c.Points > 1e6 {
		return nil, fmt.Errorf("synth: cloud of %d points: want 1 to 1000000", c.Points)
	}
	if !finite(c.Strength) {
		return nil, fmt.Errorf("synth: strength of the cloud %v: want a finite value", c.Strength)
	}
	random := rand.New(rand.NewPCG(c.Seed, 0))
	size := r3.Sub(c.To, c.From)
	var out []Scatterer
	for range c.Points {
		share := r3.Vec{X: random.Float64(), Y: random.Float64(), Z: random.Float64()}
		at := r3.Add(c.From, r3.Vec{X: share.X * size.X, Y: share.Y * size.Y, Z: share.Z * size.Z})
		one, err := Point{at, c.Strength * random.NormFloat64()}.Scatterers(around)
		if err != nil {
			return nil, err
		}
		out = append(out, one...)
	}
	return out, nil
}
