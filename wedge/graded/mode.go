// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// A Mode names a wave of the section x–z by its polarisation, so that the name
// stays with the wave where two sheets of the slowness surface cross.
type Mode uint8

// The modes. In an isotropic medium QL is the longitudinal wave, QSV and SH are
// the transverse one.
const (
	QL  Mode = iota // quasi-longitudinal, polarised in the section
	QSV             // quasi-transverse, polarised in the section
	SH              // transverse, polarised along y
)

const modes = 3

// String returns "qL", "qSV" or "SH".
func (m Mode) String() string {
	switch m {
	case QL:
		return "qL"
	case QSV:
		return "qSV"
	case SH:
		return "SH"
	}
	return fmt.Sprintf("Mode(%d)", uint8(m))
}

// validate reports a mode that is none.
func (m Mode) validate() error {
	if m >= modes {
		return fmt.Errorf("graded: mode %d: want QL, QSV or SH", uint8(m))
	}
	return nil
}

// finite reports whether no component of p is NaN or infinite.
func finite(p r3.Vec) bool { return p.X*0+p.Y*0+p.Z*0 == 0 }

// checkSection returns an error that names the point unless it is finite and in the plane y.
func checkSection(name string, p r3.Vec, y float64) error {
	if !finite(p) {
		return fmt.Errorf("graded: %s %v m: want finite coordinates", name, p)
	}
	if p.Y != y {
		return fmt.Errorf("graded: %s at y = %v m: want the section y = %v m of the first element", name, p.Y, y)
	}
	return nil
}

// checkRange returns an error that names the quantity unless low <= value <= high.
func checkRange(name string, value, low, high float64, unit string) error {
	if !(value >= low && value <= high) || math.IsInf(value, 0) {
		return fmt.Errorf("graded: %s %v%s: want a finite value from %v to %v", name, value, unit, low, high)
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
