// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Part is a part made of one or more media, with what couples an array to it.
// It must not be changed while it is in use; methods may run concurrently.
type Part struct {
	// Coupling is the wedge, or the liquid, which rays cross as longitudinal
	// waves. Nil stands for an array in contact, whose elements lie on the entry
	// surface, to within 10 µm.
	Coupling *material.Isotropic
	Entry    wedge.Surface // its far side is the part; extruded
	Back     wedge.Surface // its near side is the part; extruded. Nil for a part without end

	// Media are the zones of the part in order, and face k parts medium k, on its
	// near side, from medium k+1 on its far side. Faces are extruded and do not
	// cross one another inside the part.
	Media []Medium
	Faces []wedge.Surface
}

// NewWeld returns a plate with a V weld through its whole thickness: the parent
// metal, and between the fusion faces the weld metal with the texture of its
// grains. The entry surface is the upper of root and cap (the one with the smaller
// z), the back wall the other.
func NewWeld(coupling *material.Isotropic, parent material.Isotropic, metal *Crystal, texture Texture, preparation Preparation) (*Part, error) {
	if err := preparation.Validate(); err != nil {
		return nil, err
	}
	outside, err := NewIsotropic(parent)
	if err != nil {
		return nil, err
	}
	inside, err := NewGrains(metal, texture)
	if err != nil {
		return nil, err
	}
	p := &Part{Coupling: coupling, Media: []Medium{outside, inside, inside, outside}}
	if p.Faces, err = preparation.faces(); err != nil {
		return nil, err
	}
	if law, ok := texture.(Law); !ok || law.Eta == 1 {
		// No kink at the centre line: one zone will do.
		p.Media, p.Faces = slices.Delete(p.Media, 1, 2), slices.Delete(p.Faces, 1, 2)
	}
	if p.Entry, err = wedge.HorizontalPlane(min(preparation.Root, preparation.Cap)); err != nil {
		return nil, err
	}
	if p.Back, err = wedge.HorizontalPlane(max(preparation.Root, preparation.Cap)); err != nil {
		return nil, err
	}
	return p, p.Validate()
}

// Validate reports the first field that is missing or out of range.
func (p *Part) Validate() error {
	if p.Coupling != nil {
		if err := p.Coupling.Validate(); err != nil {
			return fmt.Errorf("graded: coupling: %w", err)
		}
	}
	if p.Entry == nil || !p.Entry.Extruded() {
		return fmt.Errorf("graded: entry surface: want one that is the same in every section")
	}
	if p.Back != nil && !p.Back.Extruded() {
		return fmt.Errorf("graded: back wall: want one that is the same in every section")
	}
	if len(p.Media) == 0 || len(p.Faces) != len(p.Media)-1 {
		return fmt.Errorf("graded: part of %d media and %d faces: want at least 1 medium and one face fewer than media", len(p.Media), len(p.Faces))
	}
	for i, m := range p.Media {
		if m == nil {
			return fmt.Errorf("graded: medium %d is missing", i)
		}
	}
	for i, f := range p.Faces {
		if f == nil || !f.Extruded() {
			return fmt.Errorf("graded: face %d: want a surface that is the same in every section", i)
		}
	}
	return nil
}

// zone returns the index of the medium at q.
func (p *Part) zone(q r3.Vec) int {
	k := 0
	for k < len(p.Faces) && p.Faces[k].Depth(q) > 0 {
		k++
	}
	return k
}

// Lengths, in metres, by which a point may lie on the wrong side.
const (
	// tolerance is that of a point: far above the rounding of coordinates.
	tolerance = 1e-9
	// contactTolerance is that of an element in contact, and of its rays.
	contactTolerance = 10e-6
)

// inside reports whether q lies in the part, within a length.
func (p *Part) inside(q r3.Vec, within float64) bool {
	return p.Entry.Depth(q) >= -within && (p.Back == nil || p.Back.Depth(q) <= within)
}

// belongs reports whether q lies in the zone, or on its faces.
func (p *Part) belongs(q r3.Vec, zone int) bool {
	if zone > 0 && p.Faces[zone-1].Depth(q) < -tolerance {
		return false
	}
	return zone == len(p.Faces) || p.Faces[zone].Depth(q) <= tolerance
}

// starts returns an error unless rays can start at the element.
func (p *Part) starts(name string, element r3.Vec, y float64) error {
	if err := checkSection(name, element, y); err != nil {
		return err
	}
	depth := p.Entry.Depth(element)
	if p.Coupling != nil && !(depth <= -tolerance) {
		return fmt.Errorf("graded: %s at %v m, %v m beyond the entry surface: want it in the coupling", name, element, depth)
	}
	if p.Coupling == nil && !(depth >= -contactTolerance && depth <= contactTolerance) {
		return fmt.Errorf("graded: %s at %v m, %v m beyond the entry surface: want it on the surface, to within %v m, as there is no coupling", name, element, depth, contactTolerance)
	}
	return nil
}

// lead returns the coupling as a medium that all modes cross as longitudinal waves.
func (p *Part) lead() Medium {
	slow := 1 / p.Coupling.Longitudinal
	return isotropic{[modes]float64{slow, slow, slow}}
}
