// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// passage is the passage of a wave through a face, or its reflection.
type passage struct {
	face     float64 // angle of the face, rad; the far side lies a right angle further on
	at       r3.Vec
	from, to Medium
	reflects bool    // the wave stays in the medium from; nil for to stands for a vacuum
	in, out  float64 // angles of the wave normals
	slowness float64 // along the face, s/m
	contact  material.Contact
}

// direction returns the unit vector along which the displacement of a wave counts as positive. The
// normal of the wave has the given angle. The vector lies along the normal for qL, along y for SH.
// For qSV it lies a right angle before the normal: it points towards +x if the wave goes down.
func (p Polarisation) direction(normal float64) r3.Vec {
	switch p {
	case QuasiLongitudinal:
		return heading(normal)
	case QuasiShearVertical:
		return heading(normal - math.Pi/2)
	}
	return r3.Vec{Y: 1}
}

// coefficient returns the displacement of the wave behind the face divided by the displacement of
// the wave that falls on it. Before the coupling all waves are longitudinal.
func (p *passage) coefficient(before, behind Polarisation) (complex128, error) {
	upper, err := p.medium(p.from)
	if err != nil {
		return 0, err
	}
	var lower material.Medium
	if p.to != nil {
		if lower, err = p.medium(p.to); err != nil {
			return 0, err
		}
	}
	boundary, err := material.NewAnisotropicBoundary(upper, lower, p.contact)
	if err != nil {
		return 0, fmt.Errorf("graded: face at %v m: %w", p.at, err)
	}
	s, err := boundary.Scatter(r2.Vec{X: p.slowness})
	if err != nil {
		return 0, fmt.Errorf("graded: face at %v m: %w", p.at, err)
	}
	i, one := p.find(s.Incident, false, before, p.in)
	k, two := p.find(s.Leaving, !p.reflects, behind, p.out)
	if i < 0 || k < 0 {
		return 0, fmt.Errorf("graded: face at %v m: the waves of the ray were not found", p.at)
	}
	return s.Displacement[i][k] * complex(one*two, 0), nil
}

// find returns the wave of the given polarisation and angle of the normal, and the sign of its
// displacement.
func (p *passage) find(waves []material.BoundaryWave, lower bool, pol Polarisation, normal float64) (int, float64) {
	q := p.slowness * math.Tan(normal-p.face)
	if p.slowness == 0 {
		q = math.NaN()
	}
	want := pol.direction(normal - p.face)
	at, best, sign := -1, math.Inf(1), 0.0
	for i, w := range waves {
		if w.Lower != lower || w.Evanescent() || (pol == ShearHorizontal) != (cmplx.Abs(w.Polarisation[1]) > 0.5) {
			continue
		}
		along := real(w.Polarisation[0])*want.X + real(w.Polarisation[1])*want.Y + real(w.Polarisation[2])*want.Z
		miss := 1 - math.Abs(along)
		if !math.IsNaN(q) {
			miss = miss*1e-9*math.Abs(q) + cmplx.Abs(w.Normal-complex(q, 0))
		}
		if miss < best {
			at, best, sign = i, miss, math.Copysign(1, along)
		}
	}
	return at, sign
}

// medium returns the elastic constants of a medium at the face, on axes whose x lies along the face
// and whose z points to the far side.
func (p *passage) medium(m Medium) (material.Medium, error) {
	solid, err := elastic(m, p.at)
	if err != nil {
		return nil, err
	}
	if a, ok := solid.(material.Anisotropic); ok {
		if a.Stiffness, err = turn(a.Stiffness, -p.face); err != nil {
			return nil, err
		}
		return a, nil
	}
	return solid, nil
}
