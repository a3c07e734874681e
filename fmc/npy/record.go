// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// Record is a capture and the set-up that it was taken with.
type Record struct {
	Title   string // for people: one line of UTF-8, at most MaxText bytes, as Validate wants it
	Notes   Notes  // what else there is to say; nil for nothing
	Capture *fmc.Capture
	Setup   Setup
}

// Setup is what lies in front of the array.
type Setup struct {
	Coupling *Medium // wedge or water between array and part; nil for an array in contact with the part
	Surface  Surface // entry surface of the part
	Part     Part
	Truth    Truth // reflectors that are known to be in the part
}

// Medium is a homogeneous isotropic medium.
type Medium struct {
	Name         string  // one line of UTF-8, at most MaxText bytes
	Density      float64 // kg/m³, finite and above 0
	Longitudinal float64 // speed of longitudinal waves in m/s, finite and above 0
	Transverse   float64 // speed of transverse waves in m/s; 0 for a fluid, else below Longitudinal·√3/2
}

// Part is the inspected part.
type Part struct {
	Medium
	Thickness float64 // from the top of the entry surface (z = 0) to the far one in m, finite and above 0; below the radius of a cylinder
}

// A Shape is the shape of an entry surface.
type Shape uint8

// The shapes of entry surfaces.
const (
	Plane    Shape = iota // z = 0; the far surface is z = thickness
	Cylinder              // convex, axis along y at x = 0, z = radius; the far surface is the bore, radius − thickness
	Profile               // z given at points along x; the far surface is z = thickness
)

// String returns "plane", "cylinder" or "profile".
func (s Shape) String() string {
	if int(s) < len(shapeNames) {
		return shapeNames[s]
	}
	return fmt.Sprintf("Shape(%d)", uint8(s))
}

var shapeNames = [...]string{Plane: "plane", Cylinder: "cylinder", Profile: "profile"}

// Surface is the entry surface of a part. A field that its shape does not use
// is zero.
type Surface struct {
	Shape  Shape
	Radius float64  // of a cylinder, in m, finite and above 0
	Points []r3.Vec // of a profile, in m, at least two, x strictly ascending, y = 0
}

// Truth is the list of reflectors that are known to be in a part, all running
// along y. It is for drawing over an image and for tests, not for imaging.
type Truth struct {
	Holes []Hole
	Slits []Slit
}

// Hole is a side-drilled hole.
type Hole struct {
	X, Z     float64 // of the axis in m, finite
	Diameter float64 // in m, finite and above 0
}

// Slit is a flat void: a crack, a notch, lack of fusion.
type Slit struct {
	X0, Z0, X1, Z1 float64 // ends in the xz plane in m, finite and distinct
	Width          float64 // opening in m, finite and not below 0
}

// Validate reports the first field outside the range that its comment gives,
// by its name in the .json file; the error wraps [ErrSetup].
func (s Setup) Validate() error {
	if err := s.validate(); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	return nil
}

func (s Setup) validate() error {
	if s.Coupling != nil {
		if err := s.Coupling.validate("coupling"); err != nil {
			return err
		}
	}
	if err := s.Surface.validate(); err != nil {
		return err
	}
	if err := s.Part.Medium.validate("part"); err != nil {
		return err
	}
	if !positive(s.Part.Thickness) {
		return setupError("part.thickness_m", s.Part.Thickness, "a finite value above 0")
	}
	if s.Surface.Shape == Cylinder && s.Part.Thickness >= s.Surface.Radius {
		return setupError("part.thickness_m", s.Part.Thickness, fmt.Sprintf("a wall thinner than the cylinder's radius, %v", s.Surface.Radius))
	}
	return s.Truth.validate()
}

func (m Medium) validate(path string) error {
	if err := validateText(path+".name", m.Name, MaxText); err != nil {
		return err
	}
	if !positive(m.Density) {
		return setupError(path+".density_kg_m3", m.Density, "a finite value above 0")
	}
	if !positive(m.Longitudinal) {
		return setupError(path+".longitudinal_m_s", m.Longitudinal, "a finite value above 0")
	}
	// A positive bulk modulus keeps the transverse speed below this.
	if limit := m.Longitudinal * math.Sqrt(3) / 2; !(m.Transverse >= 0 && m.Transverse < limit) {
		return setupError(path+".transverse_m_s", m.Transverse, fmt.Sprintf("0 (a fluid) up to, not including, %.6g", limit))
	}
	return nil
}

func (s Surface) validate() error {
	if int(s.Shape) >= len(shapeNames) {
		return setupError("surface.shape", s.Shape, "plane, cylinder or profile")
	}
	if s.Shape == Cylinder && !positive(s.Radius) {
		return setupError("surface.radius_m", s.Radius, "a finite value above 0")
	}
	if s.Shape != Cylinder && s.Radius != 0 {
		return setupError("surface.radius_m", s.Radius, fmt.Sprintf("none for a %v", s.Shape))
	}
	if s.Shape != Profile {
		if len(s.Points) > 0 {
			return setupError("surface.points_m", fmt.Sprintf("of %d points", len(s.Points)), fmt.Sprintf("none for a %v", s.Shape))
		}
		return nil
	}
	if len(s.Points) < 2 {
		return setupError("surface.points_m", fmt.Sprintf("of %d points", len(s.Points)), "at least 2")
	}
	for i, p := range s.Points {
		path := fmt.Sprintf("surface.points_m[%d]", i)
		if !finite(p.X) || !finite(p.Z) || p.Y != 0 {
			return setupError(path, p, "finite x and z, and y = 0")
		}
		if i > 0 && p.X <= s.Points[i-1].X {
			return setupError(path, p, fmt.Sprintf("x above that of the point before, %v", s.Points[i-1].X))
		}
	}
	return nil
}

func (t Truth) validate() error {
	for i, h := range t.Holes {
		if !finite(h.X) || !finite(h.Z) || !positive(h.Diameter) {
			return setupError(fmt.Sprintf("truth.holes[%d]", i), fmt.Sprintf("%+v", h), "finite values and a diameter above 0")
		}
	}
	for i, s := range t.Slits {
		ends := finite(s.X0) && finite(s.Z0) && finite(s.X1) && finite(s.Z1) && (s.X0 != s.X1 || s.Z0 != s.Z1)
		if !ends || !finite(s.Width) || s.Width < 0 {
			return setupError(fmt.Sprintf("truth.slits[%d]", i), fmt.Sprintf("%+v", s), "finite values, distinct ends and a width not below 0")
		}
	}
	return nil
}

// Validate reports the first field that is outside its allowed range, as the
// functions that write a record do. The error wraps [ErrSetup] or is an error of
// package fmc.
//
// Every text is one line of visible characters and spaces. Control characters,
// format characters (as for bidirectional text) and line separators are refused: a
// text of a record can be printed on any terminal.
func (r *Record) Validate() error {
	if err := r.validate(); err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	return nil
}

func (r *Record) validate() error {
	if r == nil {
		return setupError("record", "nil", "a record")
	}
	if err := validateText("title", r.Title, MaxText); err != nil {
		return err
	}
	if err := r.Notes.validate(); err != nil {
		return err
	}
	if r.Capture == nil {
		return setupError("capture", "nil", "a capture")
	}
	if err := r.Capture.Validate(); err != nil {
		return err
	}
	return r.Setup.validate()
}

// setupError says that the field of the .json file called path has a value
// other than what is wanted.
func setupError(path string, value any, want string) error {
	return fmt.Errorf("%w: %s %v: want %s", ErrSetup, path, value, want)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func positive(v float64) bool { return v > 0 && !math.IsInf(v, 1) }
