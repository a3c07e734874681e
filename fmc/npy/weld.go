// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge/graded"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// Weld is a V weld with columnar grains, which follow the law of graded.NewGrainLaw. A weld of
// another preparation, and measured grains, are given to package wedge/graded directly.
type Weld struct {
	Density   float64   `json:"density_kg_m3"` // of the weld metal, kg/m³, above 0
	Stiffness Stiffness `json:"stiffness_pa"`  // of the weld metal, Pa
	HalfRoot  float64   `json:"half_root_m"`   // half of the width at the root, m, 10 µm or more
	Bevel     float64   `json:"bevel_rad"`     // angle between a fusion face and the centre line, rad, 0 to 1.4
	// Root and Cap are the depths of the narrow end and of the wide end in m. One of them is 0, the
	// other is the thickness of the part.
	Root   float64  `json:"root_z_m"`
	Cap    float64  `json:"cap_z_m"`
	Centre float64  `json:"centre_x_m"` // x of the centre line, m
	Law    GrainLaw `json:"law"`
}

// Stiffness holds the stiffnesses in Pa of metal that is the same all round its grain axis, the
// axis 3. C12 is C11 − 2 C66.
type Stiffness struct {
	C11 float64 `json:"c11"`
	C13 float64 `json:"c13"`
	C33 float64 `json:"c33"`
	C44 float64 `json:"c44"`
	C66 float64 `json:"c66"`
}

// GrainLaw holds the two parameters of the law of grains.
type GrainLaw struct {
	T   float64 `json:"t"`   // 0.01 to 100
	Eta float64 `json:"eta"` // 0.1 to 2
}

// maxWeld is the greatest length of the file of a weld in bytes.
const maxWeld = 1 << 16

// ReadWeld reads the description of a weld from a file that holds the object weld of a set-up and
// nothing else. Its errors wrap [ErrSetup] or are errors of the file.
func ReadWeld(name string) (*Weld, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	defer f.Close()
	w, err := readWeld(f)
	if err != nil {
		return nil, fmt.Errorf("npy: %s: %w", quoted(name), err)
	}
	return w, nil
}

func readWeld(r io.Reader) (*Weld, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxWeld+1))
	if err != nil {
		return nil, err
	}
	if len(text) > maxWeld {
		return nil, setupError("text", fmt.Sprintf("of more than %d bytes", maxWeld), fmt.Sprintf("%d at most", maxWeld))
	}
	var w Weld
	top, err := parse(text)
	if err == nil {
		err = top.object([]field{{"weld", w.decode}})
	}
	if err == nil {
		err = w.validate(math.Abs(w.Root - w.Cap))
	}
	if err != nil && !errors.Is(err, ErrSetup) {
		err = fmt.Errorf("%w: %w", ErrSetup, err)
	}
	return &w, err
}

func (w *Weld) decode(v value) error {
	return v.object([]field{
		{"density_kg_m3", &w.Density},
		{"stiffness_pa", w.Stiffness.decode},
		{"half_root_m", &w.HalfRoot},
		{"bevel_rad", &w.Bevel},
		{"root_z_m", &w.Root},
		{"cap_z_m", &w.Cap},
		{"centre_x_m", &w.Centre},
		{"law", w.Law.decode},
	})
}

func (s *Stiffness) decode(v value) error {
	return v.object([]field{
		{"c11", &s.C11}, {"c13", &s.C13}, {"c33", &s.C33}, {"c44", &s.C44}, {"c66", &s.C66},
	})
}

func (l *GrainLaw) decode(v value) error {
	return v.object([]field{{"t", &l.T}, {"eta", &l.Eta}})
}

// validate reports the first field that is outside its allowed range. The weld goes through a plate
// of the given thickness.
func (w *Weld) validate(thickness float64) error {
	const tolerance = 1e-9 // m
	if !(math.Abs(max(w.Root, w.Cap)-thickness) <= tolerance && math.Abs(min(w.Root, w.Cap)) <= tolerance) {
		return setupError("weld.root_z_m and cap_z_m", fmt.Sprintf("%v and %v", w.Root, w.Cap),
			fmt.Sprintf("0 and the thickness of the part, %v", thickness))
	}
	if !number.Finite(w.Centre) {
		return setupError("weld.centre_x_m", w.Centre, "a finite value")
	}
	if err := w.metal().Validate(); err != nil {
		return fmt.Errorf("%w: weld: %w", ErrSetup, err)
	}
	j, err := w.Joint()
	if err == nil {
		_, err = w.law(j)
	}
	if err != nil {
		return fmt.Errorf("%w: weld: %w", ErrSetup, err)
	}
	return nil
}

// metal returns the weld metal.
func (w *Weld) metal() material.Anisotropic {
	s := w.Stiffness
	c := material.TransverselyIsotropic{C11: s.C11, C12: s.C11 - 2*s.C66, C13: s.C13, C33: s.C33, C44: s.C44}
	return material.Anisotropic{Density: w.Density, Stiffness: c.Stiffness()}
}

// Joint returns the geometry of the weld.
func (w *Weld) Joint() (*joint.Joint, error) {
	bevel := joint.Bevel{Angle: w.Bevel}
	edge := joint.Edge{Upper: bevel}
	b := joint.Butt{Thickness: math.Abs(w.Root - w.Cap), Gap: 2 * w.HalfRoot}
	if w.Cap > w.Root {
		b.LowerGroove, edge = b.Thickness, joint.Edge{Lower: bevel}
	}
	b.Left, b.Right = edge, edge
	j, err := b.Joint()
	if err != nil {
		return nil, err
	}
	return j.Shifted(r2.Vec{X: w.Centre, Y: min(w.Root, w.Cap)}), nil
}

func (w *Weld) law(j *joint.Joint) (graded.Texture, error) {
	return graded.NewGrainLaw(j, w.Law.T, w.Law.Eta)
}

// Welded returns the part with its weld, for tables of times by package wedge/graded. It is an
// error if the record has no weld. A field out of range is an error that wraps [ErrSetup].
func (r *Record) Welded() (*graded.Part, error) {
	if err := r.validateSetup(); err != nil {
		return nil, fmt.Errorf("npy: %w", err)
	}
	if r.Weld == nil {
		return nil, fmt.Errorf("npy: %w", setupError("weld", "missing", "a weld"))
	}
	j, err := r.Weld.Joint()
	if err != nil {
		return nil, err
	}
	law, err := r.Weld.law(j)
	if err != nil {
		return nil, err
	}
	curves, err := graded.NewSlownessCurves(r.Weld.metal())
	if err != nil {
		return nil, err
	}
	var coupling *material.Isotropic
	if r.Coupling != nil {
		coupling = new(r.Coupling.isotropic())
	}
	return graded.NewWeld(coupling, r.Part.isotropic(), curves, law, j)
}
