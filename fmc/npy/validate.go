// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/isochron-imaging/isochron/internal/number"
)

// maxNotes is the greatest number of notes of a record.
const maxNotes = 100

const wantPositive = "a finite value above 0"

// validate reports the first field of r that is outside its allowed range.
func (r *Record) validate() error {
	if err := r.validateSetup(); err != nil {
		return err
	}
	if r.Capture == nil {
		return setupError("capture", "nil", "a capture")
	}
	return r.Capture.Validate()
}

// validateSetup validates all of r except for the capture.
func (r *Record) validateSetup() error {
	if r == nil {
		return setupError("record", "nil", "a record")
	}
	if err := validateText("title", r.Title, maxText); err != nil {
		return err
	}
	if err := validateNotes(r.Notes); err != nil {
		return err
	}
	if r.Coupling != nil {
		if err := r.Coupling.validate("coupling"); err != nil {
			return err
		}
	}
	if err := r.Surface.validate(); err != nil {
		return err
	}
	if err := r.Part.validate("part"); err != nil {
		return err
	}
	if !number.Positive(r.Thickness) {
		return setupError("part.thickness_m", r.Thickness, wantPositive)
	}
	if radius := r.Surface.Radius; radius != 0 && r.Thickness >= radius {
		return setupError("part.thickness_m", r.Thickness,
			fmt.Sprintf("a wall thinner than the cylinder's radius, %v", radius))
	}
	if r.Weld != nil {
		if r.Surface.String() != plane {
			return setupError("weld", "in a part with the surface "+r.Surface.String(), "a plane")
		}
		if err := r.Weld.validate(r.Thickness); err != nil {
			return err
		}
	}
	return r.Truth.validate()
}

func (m Material) validate(path string) error {
	if err := validateText(path+".name", m.Name, maxText); err != nil {
		return err
	}
	if !number.Positive(m.Density) {
		return setupError(path+".density_kg_m3", m.Density, wantPositive)
	}
	if !number.Positive(m.Longitudinal) {
		return setupError(path+".longitudinal_m_s", m.Longitudinal, wantPositive)
	}
	// A positive bulk modulus keeps the transverse speed below this limit.
	if limit := m.Longitudinal * math.Sqrt(3) / 2; !(m.Transverse >= 0 && m.Transverse < limit) {
		return setupError(path+".transverse_m_s", m.Transverse,
			fmt.Sprintf("0 (a fluid) up to, not including, %.6g", limit))
	}
	return nil
}

func (s EntrySurface) validate() error {
	if s.Radius != 0 && s.Points != nil {
		return setupError("surface.radius_m", s.Radius, "none for a profile")
	}
	if s.Radius != 0 && !number.Positive(s.Radius) {
		return setupError("surface.radius_m", s.Radius, wantPositive)
	}
	if s.Points != nil && len(s.Points) < 2 {
		return setupError("surface.points_m", fmt.Sprintf("of %d points", len(s.Points)),
			"at least 2")
	}
	for i, p := range s.Points {
		path := fmt.Sprintf("surface.points_m[%d]", i)
		if !number.Finite(p.X) || !number.Finite(p.Z) || p.Y != 0 {
			return setupError(path, p, "finite x and z, and y = 0")
		}
		if i > 0 && p.X <= s.Points[i-1].X {
			return setupError(path, p,
				fmt.Sprintf("x above %v, the x of the point before", s.Points[i-1].X))
		}
	}
	return nil
}

func (t Truth) validate() error {
	for i, h := range t.Holes {
		if !number.Finite(h.X) || !number.Finite(h.Z) || !number.Positive(h.Diameter) {
			return setupError(fmt.Sprintf("truth.holes[%d]", i), fmt.Sprintf("%+v", h),
				"finite values and a diameter above 0")
		}
	}
	for i, s := range t.Slits {
		finite := !slices.ContainsFunc([]float64{s.X0, s.Z0, s.X1, s.Z1, s.Width},
			func(v float64) bool { return !number.Finite(v) })
		if !finite || s.X0 == s.X1 && s.Z0 == s.Z1 || s.Width < 0 {
			return setupError(fmt.Sprintf("truth.slits[%d]", i), fmt.Sprintf("%+v", s),
				"finite values, distinct ends and a width not below 0")
		}
	}
	return nil
}

// validateNotes checks the notes in the order of their names.
func validateNotes(notes map[string]any) error {
	if len(notes) > maxNotes {
		return setupError("notes", fmt.Sprintf("of %d notes", len(notes)),
			fmt.Sprintf("%d at most", maxNotes))
	}
	for _, name := range slices.Sorted(maps.Keys(notes)) {
		if name == "" {
			return setupError("notes", "with an empty name", "a name for every note")
		}
		if err := validateText("name of a note", name, maxName); err != nil {
			return err
		}
		path := fmt.Sprintf("notes[%s]", quoted(name))
		switch value := notes[name].(type) {
		case string:
			if err := validateText(path, value, maxText); err != nil {
				return err
			}
		case float64:
			if !number.Finite(value) {
				return setupError(path, value, "a finite number")
			}
		default:
			return setupError(path, fmt.Sprintf("of type %T", value),
				"a text (string) or a number (float64)")
		}
	}
	return nil
}

// validateFile checks that name is a plain file name. A set-up from anywhere then cannot name a
// file outside its own folder.
func validateFile(name string) error {
	if name == "." || strings.ContainsAny(name, `/\`) || !filepath.IsLocal(name) {
		return setupError("capture.file", quoted(name),
			"the plain name of a file in the same folder")
	}
	return validateText("capture.file", name, maxName)
}

// setupError returns the error that the field at path in the .json file has a wrong value.
func setupError(path string, value any, want string) error {
	return fmt.Errorf("%w: %s %v: want %s", ErrSetup, path, value, want)
}
