// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// Record is a capture and the set-up that it was taken with.
type Record struct {
	// Title is a text for people: see [Record.Validate] for the texts that are allowed.
	Title string

	// Notes hold what the set-up has no field for: the date, the operator, the gain of the
	// instrument, serial numbers. This package stores the notes and does not use them. The value of
	// a note is a string or a finite float64. A record has at most 100 notes. The name of a note
	// has 1 to 255 bytes. A number of more than 15 digits, such as a serial number, is kept in full
	// only as a string. Nil stands for no notes.
	Notes map[string]any

	Capture *fmc.Capture

	// Coupling is the wedge or the water between array and part; nil for an array in contact.
	Coupling *Material

	// Surface is the entry surface of the part.
	Surface EntrySurface

	// Part is the material of the part.
	Part Material

	// Thickness is the distance in m from the top of the entry surface (z = 0) to the far surface
	// of the part, finite and above 0. The far surface of a plane or a profile is the plane z =
	// Thickness. The far surface of a cylinder is its bore, so Thickness is below the radius.
	Thickness float64

	// Weld is a weld through the part; nil for none. The entry surface of a welded part is a plane.
	// [Record.Geometry] does not contain the weld: see [Record.Welded].
	Weld *Weld

	// Truth are the reflectors that are known to be in the part.
	Truth Truth
}

// Material is a homogeneous isotropic material.
type Material struct {
	// Name is a text for people: see [Record.Validate] for the texts that are allowed.
	Name string `json:"name"`

	// Density is in kg/m³, finite and above 0.
	Density float64 `json:"density_kg_m3"`

	// Longitudinal is the speed of longitudinal waves in m/s, finite and above 0.
	Longitudinal float64 `json:"longitudinal_m_s"`

	// Transverse is the speed of transverse waves in m/s: 0 for a fluid, else above 0 and below
	// Longitudinal·√3/2.
	Transverse float64 `json:"transverse_m_s"`
}

// EntrySurface is the entry surface of a part. The zero value is the plane z = 0. A surface with a
// Radius is a cylinder, and a surface with Points is a profile; a surface must not have both.
type EntrySurface struct {
	// Radius is the radius in m of a convex cylinder whose axis runs along y at x = 0, z = Radius;
	// finite and above 0.
	Radius float64

	// Points are the points in m of a profile, which is straight between them and extruded along y.
	// There are at least two, with x strictly ascending and y = 0.
	Points []r3.Vec
}

// String returns the shape of the surface: "plane", "cylinder" or "profile".
func (s EntrySurface) String() string {
	switch {
	case s.Points != nil:
		return profile
	case s.Radius != 0:
		return cylinder
	}
	return plane
}

// The shapes of an entry surface, as the .json file names them.
const (
	plane    = "plane"
	cylinder = "cylinder"
	profile  = "profile"
)

// Truth lists the reflectors that are known to be in a part. All reflectors run along y. Use it to
// draw over an image and to test; imaging does not need it.
type Truth struct {
	Holes []Hole `json:"holes"`
	Slits []Slit `json:"slits"`
}

// Hole is a side-drilled hole.
type Hole struct {
	X        float64 `json:"x_m"`        // of the axis in m, finite
	Z        float64 `json:"z_m"`        // of the axis in m, finite
	Diameter float64 `json:"diameter_m"` // in m, finite and above 0
}

// Slit is a flat void: a crack, a notch, lack of fusion.
type Slit struct {
	X0    float64 `json:"x0_m"` // of one end in m, finite
	Z0    float64 `json:"z0_m"`
	X1    float64 `json:"x1_m"` // of the other end in m, finite; the ends are distinct
	Z1    float64 `json:"z1_m"`
	Width float64 `json:"width_m"` // opening in m, finite and not below 0
}

// Validate reports what is wrong with a record.
//
// If a field is outside its allowed range, the error names the first such field. It wraps
// [ErrSetup], or it is an error of package fmc. A record with such a fault is neither written nor
// read.
//
// If all fields are possible but some values are implausible, the error lists these values and
// wraps [ErrImplausible]. Such a record is written, but it is read only with
// [ReadOptions].AllowImplausible.
//
// Every text is one line of at most 1000 bytes of UTF-8 that holds visible characters and spaces.
// Control characters, format characters (as for bidirectional text) and line separators are
// refused, so that every text of a record can be printed on any terminal.
//
// FORMAT.md lists the plausible ranges. A value in a wrong unit is found if it is outside its
// range. A value in a wrong unit that stays in its range is not found: no error does not prove that
// the set-up is right.
func (r *Record) Validate() error {
	err := r.validate()
	if err == nil {
		err = implausible(r.findings())
	}
	if err != nil {
		return fmt.Errorf("npy: %w", err)
	}
	return nil
}
