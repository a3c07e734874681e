// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Cloud is many points at random positions in a box. It stands for porosity or slag. Weak points in
// the whole part stand for the noise of the grains. The same seed gives the same points. So
// averages of several captures keep the noise, as in a real part.
type Cloud struct {
	From, To r3.Vec // opposite corners of the box in m, finite, in the part; of one y in a Section
	Points   int    // 1 to 1e6
	// Strength is the standard deviation of the strengths of the points, finite, in the unit of
	// [Point.Strength]. The strengths are normally distributed with a mean of 0.
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
	if !number.Finite(c.Strength) {
		return nil, fmt.Errorf("synth: strength of the cloud %v: want a finite value", c.Strength)
	}
	random := rand.New(rand.NewPCG(c.Seed, 0))
	size := r3.Sub(c.To, c.From)
	var out []Scatterer
	for range c.Points {
		x, y, z := random.Float64(), random.Float64(), random.Float64()
		at := r3.Add(c.From, r3.Vec{X: x * size.X, Y: y * size.Y, Z: z * size.Z})
		one, err := Point{at, c.Strength * random.NormFloat64()}.Scatterers(around)
		if err != nil {
			return nil, err
		}
		out = append(out, one...)
	}
	return out, nil
}
