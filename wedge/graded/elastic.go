// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// Elastic is a [Medium] whose elastic constants are known, as the constants of all media of this
// package are. Amplitudes need them: the coefficients at a face depend on the density and on all
// waves.
type Elastic interface {
	Medium
	// Elastic returns the density and the elastic constants at a place (m), on the axes x, y, z of
	// the part. They belong to the speeds of Phase.
	Elastic(at r3.Vec) (material.Medium, error)
}

// elastic returns the elastic constants of a medium at a place, or an error if they are not known.
func elastic(m Medium, at r3.Vec) (material.Medium, error) {
	e, ok := m.(Elastic)
	if !ok {
		return nil, fmt.Errorf("graded: medium %T at %v m: want one that implements Elastic, for amplitudes", m, at)
	}
	return e.Elastic(at)
}

// Elastic implements [Elastic].
func (m isotropic) Elastic(r3.Vec) (material.Medium, error) { return m.solid, nil }

// Elastic implements [Elastic].
func (m linear) Elastic(at r3.Vec) (material.Medium, error) {
	solid, factor := m.solid, m.factor(at)
	solid.Longitudinal *= factor
	solid.Transverse *= factor
	return solid, nil
}

// Elastic implements [Elastic].
func (m uniform) Elastic(r3.Vec) (material.Medium, error) { return m.curves.turned(m.axis, 1) }

// Elastic implements [Elastic].
func (m grains) Elastic(at r3.Vec) (material.Medium, error) {
	g := m.texture.At(at)
	return m.curves.turned(g.Angle, g.Factor)
}

// turned returns the solid with its grain axis at an angle (rad from +x towards +z), with all
// speeds multiplied by factor.
func (c *SlownessCurves) turned(axis, factor float64) (material.Anisotropic, error) {
	solid := c.solid
	var err error
	if solid.Stiffness, err = turn(solid.Stiffness, axis-math.Pi/2); err != nil {
		return solid, err
	}
	for i := range solid.Stiffness {
		for k := range solid.Stiffness {
			solid.Stiffness[i][k] *= factor * factor
		}
	}
	return solid, nil
}

// turn returns the stiffness of a solid turned by an angle (rad) from +x towards +z.
func turn(c material.Stiffness, angle float64) (material.Stiffness, error) {
	out, err := c.Rotate(r3.NewRotation(-angle, r3.Vec{Y: 1}))
	if err != nil {
		return out, fmt.Errorf("graded: %w", err)
	}
	return out, nil
}
