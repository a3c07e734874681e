// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// phases predicts the phases by which boundaries and caustics turn the waves along a path.
//
// Beyond a critical angle the coefficient of a boundary is complex, and its phase changes with the
// angle of incidence. So it differs from element to element, as an error of the geometry does.
type phases struct {
	path       *wedge.Path
	elements   []r3.Vec
	amplitudes *wedge.Amplitudes // nil for a path that meets no boundary
}

func newPhases(setup *wedge.Setup, path *wedge.Path, elements []r3.Vec) (*phases, error) {
	out := &phases{path: path, elements: elements}
	acoustics := setup.Acoustics(path)
	if len(acoustics.Interfaces) == 0 {
		return out, nil
	}
	var err error
	out.amplitudes, err = wedge.NewAmplitudes(path, acoustics)
	return out, err
}

// at returns the factor of each element that undoes the phase along the ray to a point. The
// analytic signal has the opposite time factor of the amplitudes, so it is the phase of the
// amplitude itself.
func (p *phases) at(point r3.Vec) []complex128 {
	out := make([]complex128, len(p.elements))
	for e, element := range p.elements {
		out[e] = 1
		if p.amplitudes == nil {
			continue
		}
		ray := p.path.Solve(element, point)
		if a, err := p.amplitudes.Along(&ray); err == nil { // without a ray there is no time either
			out[e] = cmplx.Rect(1, cmplx.Phase(a.Value()))
		}
	}
	return out
}

// turn sets the factors of all elements for a point in the part. A place beyond a wall, which no
// ray reaches, keeps the factors of the last point.
func (s *sum) turn(point r3.Vec) {
	if n := s.transmit.phases; n.amplitudes == nil || n.path.Solve(n.elements[0], point).Status != wedge.OK {
		return
	}
	s.transmit.turns = s.transmit.phases.at(point)
	s.receive.turns = s.transmit.turns
	if s.receive.phases != s.transmit.phases {
		s.receive.turns = s.receive.phases.at(point)
	}
}
