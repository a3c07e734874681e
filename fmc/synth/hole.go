// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// Hole is a side-drilled hole: an empty cylinder along y, endless against the
// beam. It scatters by the exact solution for plane elastic waves at a cavity,
// specular echo and waves that creep round it included. In space its echo is
// that of the point at which the way from element to element is shortest, by
// stationary phase. Between elements of different y, rays meet the hole at a slant,
// and are scattered as their projections on a section of constant y would be:
// small angles of slant are meant.
type Hole struct {
	X, Z     float64 // of the axis, in m, finite
	Diameter float64 // in m, 0.001 to 100 of the shortest wavelength of transverse waves in the pulse
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
	// Below, the series loses its digits in rounding at the lowest frequencies.
	highest, err := around.highest()
	if err != nil {
		return nil, err
	}
	if waves := h.Diameter * highest / around.Part.Transverse; !(waves >= 1e-3 && waves <= 100) {
		return nil, fmt.Errorf("synth: diameter of the hole %v m, %.3g wavelengths of transverse waves: want 0.001 to 100 wavelengths", h.Diameter, waves)
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
	angle := math.Atan2(out.Direction.Z, out.Direction.X) - math.Atan2(in.Direction.Z, in.Direction.X)
	harmonics := newHarmonics(angle, h.cylinders[len(dst)-1].orders()) // most at the highest frequency
	for k := range dst {
		dst[k] = h.cylinders[k].at(in.Mode, out.Mode, harmonics) * complex(scale, 0)
	}
}
