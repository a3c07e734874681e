// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// Part is a part made of one or more media, with the coupling of the array. It must not be changed
// while it is in use. Its methods may run concurrently.
type Part struct {
	// Coupling is the wedge or the liquid, which rays cross as longitudinal waves. Nil stands for
	// an array in contact; its elements lie within 10 µm of the entry surface.
	Coupling *material.Isotropic
	Entry    wedge.Surface // its far side is the part; extruded
	Back     wedge.Surface // its near side is the part; extruded. Nil for a part without end

	// Media are the zones of the part in order. Face k separates medium k on its near side from
	// medium k+1 on its far side. Faces are extruded and do not cross each other inside the part.
	Media []Medium
	Faces []wedge.Surface
}

// NewWeld returns a plate with a V weld. The parent metal lies outside the fusion faces of the
// joint, the weld metal with the texture of its grains between them.
//
// The joint has two fusion faces. Both are straight, go from the entry surface to the back wall,
// and are mirror images of each other. A joint.Butt has such faces without root face, lower groove,
// mismatch and taper, and with the same bevel angle on both edges. A lower groove through the whole
// thickness gives a V that is wide at the back wall. The bevel angle is at most 1.4 rad, the root
// gap at least 20 µm. The surfaces of the part are flat: the part has no cap and no root bead.
func NewWeld(
	coupling *material.Isotropic, parent material.Isotropic,
	metal *SlownessCurves, texture Texture, weld *joint.Joint,
) (*Part, error) {
	g, err := newGroove(weld)
	if err != nil {
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
	if p.Faces, err = g.faces(); err != nil {
		return nil, err
	}
	if law, ok := texture.(grainLaw); !ok || law.eta == 1 {
		// The texture has no kink at the centre line: the weld metal is one zone.
		p.Media, p.Faces = slices.Delete(p.Media, 1, 2), slices.Delete(p.Faces, 1, 2)
	}
	if p.Entry, err = wedge.HorizontalPlane(min(g.root, g.cap)); err != nil {
		return nil, err
	}
	if p.Back, err = wedge.HorizontalPlane(max(g.root, g.cap)); err != nil {
		return nil, err
	}
	return p, p.validate()
}

// validate returns an error that names the first field that is missing or out of range.
func (p *Part) validate() error {
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
		return fmt.Errorf("graded: part of %d media and %d faces: "+
			"want at least 1 medium and one face fewer than media", len(p.Media), len(p.Faces))
	}
	for i, m := range p.Media {
		if m == nil {
			return fmt.Errorf("graded: medium %d is missing", i)
		}
	}
	for i, f := range p.Faces {
		if f == nil || !f.Extruded() {
			return fmt.Errorf("graded: face %d: want a surface that is the same in every section",
				i)
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
	// tolerance applies to points. It is far above the rounding of coordinates.
	tolerance = 1e-9
	// contactTolerance applies to elements in contact and to their rays.
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

// clearance returns the distance of a place from the nearest boundary of a zone.
func (p *Part) clearance(q r3.Vec, zone int) float64 {
	least := math.Abs(p.Entry.Depth(q))
	if p.Back != nil {
		least = min(least, math.Abs(p.Back.Depth(q)))
	}
	if zone > 0 {
		least = min(least, math.Abs(p.Faces[zone-1].Depth(q)))
	}
	if zone < len(p.Faces) {
		least = min(least, math.Abs(p.Faces[zone].Depth(q)))
	}
	return least
}

// starts returns an error unless rays can start at the element.
func (p *Part) starts(name string, element r3.Vec, y float64) error {
	if err := checkSection(name, element, y); err != nil {
		return err
	}
	depth := p.Entry.Depth(element)
	if p.Coupling != nil && !(depth <= -tolerance) {
		return fmt.Errorf("graded: %s at %v m, %v m beyond the entry surface: "+
			"want it in the coupling", name, element, depth)
	}
	if p.Coupling == nil && !(depth >= -contactTolerance && depth <= contactTolerance) {
		return fmt.Errorf("graded: %s at %v m, %v m beyond the entry surface: "+
			"want it on the surface, to within %v m, as there is no coupling",
			name, element, depth, contactTolerance)
	}
	return nil
}

// lead returns the coupling as a medium that all waves cross as longitudinal waves.
func (p *Part) lead() Medium {
	slow := 1 / p.Coupling.Longitudinal
	return isotropic{*p.Coupling, [polarisations]float64{slow, slow, slow}}
}
