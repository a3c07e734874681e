// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Polarisation names a wave of the section x–z by its direction of motion. The name stays with the
// wave where two sheets of the slowness surface cross.
type Polarisation uint8

// The polarisations. In an isotropic medium QuasiLongitudinal is the longitudinal wave. Both others
// are the transverse wave.
const (
	QuasiLongitudinal  Polarisation = iota // in the section
	QuasiShearVertical                     // in the section, quasi-transverse
	ShearHorizontal                        // along y, transverse
)

const polarisations = 3

// String returns "qL", "qSV" or "SH".
func (p Polarisation) String() string {
	switch p {
	case QuasiLongitudinal:
		return "qL"
	case QuasiShearVertical:
		return "qSV"
	case ShearHorizontal:
		return "SH"
	}
	return fmt.Sprintf("Polarisation(%d)", uint8(p))
}

// validate returns an error for a value that is no polarisation.
func (p Polarisation) validate() error {
	if p >= polarisations {
		return fmt.Errorf("graded: polarisation %d: want QuasiLongitudinal, QuasiShearVertical or "+
			"ShearHorizontal", uint8(p))
	}
	return nil
}

// finite reports whether all components of p are finite.
func finite(p r3.Vec) bool {
	return number.Finite(p.X) && number.Finite(p.Y) && number.Finite(p.Z)
}

// checkSection returns an error that names the point unless it is finite and lies in the plane y.
func checkSection(name string, p r3.Vec, y float64) error {
	if !finite(p) {
		return fmt.Errorf("graded: %s %v m: want finite coordinates", name, p)
	}
	if p.Y != y {
		return fmt.Errorf("graded: %s at y = %v m: want the section y = %v m of the first element",
			name, p.Y, y)
	}
	return nil
}

// checkRange returns an error that names the quantity unless low <= value <= high.
func checkRange(name string, value, low, high float64, unit string) error {
	if !(value >= low && value <= high) || math.IsInf(value, 0) {
		return fmt.Errorf("graded: %s %v%s: want a finite value from %v to %v", name, value, unit,
			low, high)
	}
	return nil
}

// heading returns the unit vector at the angle from +x towards +z.
func heading(angle float64) r3.Vec {
	sin, cos := math.Sincos(angle)
	return r3.Vec{X: cos, Z: sin}
}

// middle returns the point half-way between a and b.
func middle(a, b r3.Vec) r3.Vec { return r3.Scale(0.5, r3.Add(a, b)) }
