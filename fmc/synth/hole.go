// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// Hole is a side-drilled hole: an empty cylinder along y that is longer than the beam is wide. It
// scatters by the exact solution for plane elastic waves at a cavity. The solution contains the
// specular echo and the waves that creep round the hole. In space the hole echoes from the point on
// its axis at which the path from element to element is shortest, by stationary phase. Between
// elements of different y the rays meet the hole at a slant. They scatter as their projections on a
// section of constant y do. This holds for small angles of slant.
type Hole struct {
	X, Z float64 // of the axis, in m, finite
	// Diameter is in m: 0.001 to 100 of the shortest wavelength of transverse waves in the pulse.
	Diameter float64
}

// hole is a Hole in its surroundings.
type hole struct {
	Hole
	around    Surroundings
	cylinders []cylinder // at each frequency
}

// Scatterers implements [Reflector].
func (h Hole) Scatterers(around Surroundings) ([]Scatterer, error) {
	if err := checkPosition("axis of the hole", r3.Vec{X: h.X, Z: h.Z}); err != nil {
		return nil, err
	}
	if around.Part.Fluid() {
		return nil, fmt.Errorf("synth: hole in a fluid: want a solid part")
	}
	// For smaller holes, rounding destroys the series at the lowest frequencies.
	highest, err := around.highest()
	if err != nil {
		return nil, err
	}
	if waves := h.Diameter * highest / around.Part.Transverse; !(waves >= 1e-3 && waves <= 100) {
		return nil, fmt.Errorf("synth: diameter of the hole %v m, %.3g wavelengths of transverse waves: "+
			"want 0.001 to 100 wavelengths", h.Diameter, waves)
	}
	out := &hole{Hole: h, around: around}
	for _, f := range around.Frequencies {
		out.cylinders = append(out.cylinders, newCylinder(around.Part, h.Diameter/2, f))
	}
	return []Scatterer{out}, nil
}

// Centre implements [Scatterer].
func (h *hole) Centre() (r3.Vec, bool) { return r3.Vec{X: h.X, Z: h.Z}, true }

// Scatter implements [Scatterer].
func (h *hole) Scatter(dst []complex128, in, out Wave) {
	scale := inSection(in) * inSection(out)
	if h.around.Dimension == wedge.Space {
		scale *= lineToSpace(h.around.Part, in, out)
	}
	from, to := in.Direction, out.Direction
	angle := math.Atan2(to.Z, to.X) - math.Atan2(from.Z, from.X)
	// The highest frequency has the most orders.
	harmonics := newHarmonics(angle, h.cylinders[len(dst)-1].orders())
	for k := range dst {
		dst[k] = h.cylinders[k].at(in.Mode, out.Mode, harmonics) * complex(scale, 0)
	}
}
