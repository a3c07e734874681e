// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"

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

	// Media are the zones of the part in order. Zone k lies on the near side of face k, and on the far
	// side of all faces before it; the last zone is the rest. Faces are extruded.
	Media []Medium
	Faces []wedge.Surface
}

// Layer is a zone of its own in a weld, such as buttering or cladding.
type Layer struct {
	Outline wedge.Outline // a polygon, as joint.NewBoundary takes it, m
	Medium  Medium
}

// NewWeld returns the part of a welded joint: parent metal, weld metal with the texture of its
// grains, and layers. Where a layer lies, there is neither parent metal nor weld metal. A layer that
// comes earlier in the list lies over the layers after it.
//
// The joint is any joint of package wedge/joint that has a section ([joint.Joint.Section]). The
// surfaces of the part are flat: the part has no cap and no root bead. Rays end at the voids of the
// joint, such as a root that is not welded or the air beside a web. The weld metal of a joint that
// is welded from both sides is two zones. A texture of this package gives each zone its own grains;
// another texture goes on from one zone to the other.
func NewWeld(
	coupling *material.Isotropic, parent material.Isotropic,
	metal *SlownessCurves, texture Texture, weld *joint.Joint, layers ...Layer,
) (*Part, error) {
	section, err := sectionOf(weld)
	if err != nil {
		return nil, err
	}
	outside, err := NewIsotropic(parent)
	if err != nil {
		return nil, err
	}
	p := &Part{Coupling: coupling, Entry: section.Entry, Back: section.Back}
	add := func(m Medium, face wedge.Surface) {
		p.Media = append(p.Media, m)
		if face != nil {
			p.Faces = append(p.Faces, face)
		}
	}
	for i, l := range layers {
		face, err := joint.NewBoundary(l.Outline)
		if err != nil {
			return nil, fmt.Errorf("graded: layer %d: %w", i, err)
		}
		add(l.Medium, face)
	}
	for _, r := range section.Regions {
		switch r.Zone {
		case joint.Parent:
			add(outside, r.Boundary)
		case joint.Outside:
			add(void{}, r.Boundary)
		default:
			grains, err := NewGrains(metal, within(texture, r))
			if err != nil {
				return nil, err
			}
			if half, err := kink(grains, r); err != nil {
				return nil, err
			} else if half != nil {
				add(grains, half)
			}
			add(grains, r.Boundary)
		}
	}
	return p, p.validate()
}

// sectionOf returns the section of a joint.
func sectionOf(weld *joint.Joint) (*joint.Section, error) {
	if weld == nil {
		return nil, fmt.Errorf("graded: joint is missing")
	}
	section, err := weld.Section()
	if err != nil {
		return nil, fmt.Errorf("graded: %w", err)
	}
	return section, nil
}

// within returns the texture in a region of weld metal.
func within(texture Texture, r joint.Region) Texture {
	if t, ok := texture.(regional); ok {
		return t.in(r)
	}
	return texture
}

// regional is a texture that differs from region to region.
type regional interface {
	Texture
	in(r joint.Region) Texture
}

// kink returns the boundary of the left half of a region if the grain law has a kink at the centre
// line, or nil.
func kink(m Medium, r joint.Region) (wedge.Surface, error) {
	law, ok := m.(grains).texture.(grainLaw)
	if !ok || law.eta == 1 {
		return nil, nil
	}
	const far = 0.4 // m
	c, z := law.groove.centre, law.groove.waist
	if r.Boundary == nil {
		return wedge.NewPlane(r3.Vec{X: c}, r3.Vec{X: 1})
	}
	return joint.NewBoundary(wedge.Outline{{X: c - far, Y: z - far}, {X: c, Y: z - far}, {X: c, Y: z}, {X: c - far, Y: z}})
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
	for _, f := range p.Faces[:zone] {
		if f.Depth(q) < -tolerance {
			return false
		}
	}
	return zone == len(p.Faces) || p.Faces[zone].Depth(q) <= tolerance
}

// blocked reports whether a void lies on the straight line between two places.
func (p *Part) blocked(a, b r3.Vec) bool {
	for k, m := range p.Media {
		if _, ok := m.(void); !ok {
			continue
		}
		depth := func(share float64) float64 {
			return -p.Faces[k].Depth(r3.Add(a, r3.Scale(share, r3.Sub(b, a))))
		}
		if _, hit := dip(depth, 0, 1, depth(0), depth(1), distance(a, b)); hit {
			return true
		}
	}
	return false
}

// dip finds a place between two shares of a way at which the function beyond is above 0. The
// function is a distance, below 0 at both ends. So it is below 0 everywhere if its values at the
// ends are larger than the length of the way between them. Places closer than 0.1 µm are not
// searched.
func dip(beyond func(share float64) float64, from, to, start, end, length float64) (share float64, ok bool) {
	switch {
	case start > tolerance:
		return from, true
	case end > tolerance:
		return to, true
	case -start-end > length || length < 1e-7:
		return 0, false
	}
	half := (from + to) / 2
	middle := beyond(half)
	if share, ok := dip(beyond, from, half, start, middle, length/2); ok {
		return share, ok
	}
	return dip(beyond, half, to, middle, end, length/2)
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
