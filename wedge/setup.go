// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// Setup describes an array on a part: the medium that couples them, the part, and the surfaces
// through which rays enter the part and off which they skip.
type Setup struct {
	// Coupling is the wedge, or the liquid, between the array and the part. Rays cross it as
	// longitudinal waves. The elements lie at its far end, on the near side of the entry surface.
	// Nil stands for an array in contact: its elements lie on the entry surface, within 10 µm.
	// Elements on the entry surface are no error with a coupling either.
	Coupling *material.Isotropic
	Part     material.Isotropic
	Entry    Surface // its far side is the part
	Back     Surface // its near side is the part; nil if there is no back wall
	// Sides are further surfaces that bound the part, such as the ends of a plate. The part is on
	// their near side. Paths of the Setup do not skip off a side; a path of [NewPath] can.
	Sides []Surface
	// EntryGaps and BackGaps are ranges of x in which the entry surface and the back wall are
	// missing or have another shape. Examples are the cap and the root bead of a weld, a web that
	// is welded on, and the space beyond the end of a plate. Rays neither enter nor skip in a gap.
	// The ends of a range do not belong to the gap, and may be ±Inf.
	EntryGaps, BackGaps []Interval
	// Contact, if not nil, is the range of x in which the wedge touches the part, or the liquid
	// wets the part. A ray enters the part only there. Contact needs a Coupling.
	Contact *Interval
	// Voids are further obstacles to a leg in the part: the outside of a part that is not a plate,
	// an open gap, a slot. No ray passes through a void. A ray that starts in a closed void is
	// blocked where it leaves the void. A path copies the voids.
	Voids []Outline
}

// NewPlate returns the set-up of a flat plate. Its entry surface is z = 0, its back wall is z =
// thickness (m, above 0). The coupling is the wedge or the liquid under the array, and nil for an
// array in contact ([Setup]).
func NewPlate(coupling *material.Isotropic, part material.Isotropic, thickness float64) (*Setup, error) {
	if err := checkPositive("thickness of the plate", thickness, "m"); err != nil {
		return nil, err
	}
	entry, err := HorizontalPlane(0)
	if err != nil {
		return nil, err
	}
	back, err := HorizontalPlane(thickness)
	if err != nil {
		return nil, err
	}
	s := &Setup{Coupling: coupling, Part: part, Entry: entry, Back: back}
	return s, s.Validate()
}

// NewPipe returns the set-up of an array outside a pipe, across the axis of the pipe. The axis lies
// along y at the depth radius, so the top of the pipe is at z = 0. The outer radius and the wall
// are in metres, 0 < wall < radius. The coupling is the wedge or the liquid under the array, and
// nil for an array in contact ([Setup]).
func NewPipe(coupling *material.Isotropic, part material.Isotropic, radius, wall float64) (*Setup, error) {
	if err := checkPositive("outer radius of the pipe", radius, "m"); err != nil {
		return nil, err
	}
	if !(wall > 0 && wall < radius) {
		return nil, fmt.Errorf("wedge: wall of the pipe %v m: want above 0 and below the outer radius %v m",
			wall, radius)
	}
	centre, axis := r3.Vec{Z: radius}, r3.Vec{Y: 1}
	entry, err := NewCylinder(centre, axis, radius, Convex)
	if err != nil {
		return nil, err
	}
	back, err := NewCylinder(centre, axis, radius-wall, Convex)
	if err != nil {
		return nil, err
	}
	s := &Setup{Coupling: coupling, Part: part, Entry: entry, Back: back}
	return s, s.Validate()
}

// Validate reports the first field of s that is missing or out of range.
func (s *Setup) Validate() error {
	if s.Coupling != nil {
		if err := s.Coupling.Validate(); err != nil {
			return fmt.Errorf("wedge: coupling: %w", err)
		}
	}
	if err := s.Part.Validate(); err != nil {
		return fmt.Errorf("wedge: part: %w", err)
	}
	if err := checkSurface("entry surface", s.Entry); err != nil {
		return err
	}
	if s.Back != nil {
		if err := checkSurface("back wall", s.Back); err != nil {
			return err
		}
	}
	if s.Contact != nil {
		if s.Coupling == nil {
			return fmt.Errorf("wedge: contact length of an array without coupling: want a coupling, or no contact length")
		}
		if err := s.Contact.validate("contact length"); err != nil {
			return err
		}
	}
	for i, side := range s.Sides {
		if err := checkSurface(fmt.Sprintf("side %d", i), side); err != nil {
			return err
		}
	}
	if err := validateGaps("entry surface", s.EntryGaps); err != nil {
		return err
	}
	if err := validateGaps("back wall", s.BackGaps); err != nil {
		return err
	}
	for i, v := range s.Voids {
		if err := validateOutline(fmt.Sprintf("void %d", i), v); err != nil {
			return err
		}
	}
	return nil
}

// Inside reports whether p lies in the part or on its surfaces. A point inside a closed void is not
// in the part. An open void encloses no point.
func (s *Setup) Inside(p r3.Vec) bool {
	if !admitted(s.inside(), p) {
		return false
	}
	for _, v := range s.Voids {
		if enclosedBy(v, flat(p)) {
			return false
		}
	}
	return true
}

// inside returns the bounds of the part.
func (s *Setup) inside() []bound {
	bounds := append([]bound{{s.Entry, Far}}, s.sides()...)
	if s.Back != nil {
		bounds = append(bounds, bound{s.Back, Near})
	}
	return bounds
}

// sides returns the bounds of the sides.
func (s *Setup) sides() (bounds []bound) {
	for _, side := range s.Sides {
		bounds = append(bounds, bound{side, Near})
	}
	return bounds
}

// Path returns the path from an element of the array to a point of the part. There is one mode for
// each leg in the part. One leg goes directly to the point. Each further leg adds a skip: the first
// off the back wall, the second off the entry surface from inside, and so on.
//
// A ray has the status [Obstructed] if a leg would leave the part and come back, as through the
// bore of a pipe, or would pass through a void. It has the status [OffSurface] if it meets a
// surface in one of its gaps, or beyond a side.
//
// A path with a skip ends inside the part. A direct path may also end beyond the back wall, as if
// the part continued. So a direct view shows the echo of a wall that is thicker than it should be.
func (s *Setup) Path(modes []material.Mode) (*Path, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	if len(modes) == 0 {
		return nil, fmt.Errorf("wedge: path without legs in the part: want at least one mode")
	}
	if len(modes) > 1 && s.Back == nil {
		return nil, fmt.Errorf("wedge: path %s skips, but the set-up has no back wall",
			modeNames(modes))
	}
	legs, crossings, err := s.legs(modes)
	if err != nil {
		return nil, err
	}
	p, err := NewPath(legs, crossings)
	if err != nil {
		return nil, err
	}
	if s.Coupling == nil {
		p.starts, p.contact = nil, s.Entry
	}
	s.limit(p, len(modes))
	return p, nil
}

// legs returns the legs and the crossings of a path with legs of the given modes in the part.
func (s *Setup) legs(modes []material.Mode) (legs []Leg, crossings []Crossing, err error) {
	if s.Coupling != nil {
		legs = append(legs, Leg{s.Coupling.Longitudinal, material.L})
		crossings = append(crossings, Crossing{Surface: s.Entry})
	}
	for i, mode := range modes {
		if i > 0 {
			c := Crossing{Surface: s.Back, Reflects: true}
			if i%2 == 0 {
				c = Crossing{Surface: s.Entry, From: Far, Reflects: true}
			}
			crossings = append(crossings, c)
		}
		speed := s.Part.Speed(mode)
		if speed == 0 {
			return nil, nil, fmt.Errorf("wedge: path %s: a fluid part carries no transverse wave",
				modeNames(modes))
		}
		legs = append(legs, Leg{speed, mode})
	}
	return legs, crossings, nil
}

// limit sets the limits of a path with a number of legs in the part: the walls, the gaps of surfaces
// and the voids.
func (s *Setup) limit(p *Path, count int) {
	p.sides = s.sides()
	p.ends = append([]bound{{s.Entry, Far}}, p.sides...)
	if count > 1 {
		p.ends = s.inside()
	}
	if s.Coupling != nil {
		p.inPart = 1
		p.addWall(0, bound{s.Entry, Near})
		if c := s.Contact; c != nil {
			p.addGaps(1, []Interval{{math.Inf(-1), c.Min}, {c.Max, math.Inf(1)}}, OffContact)
		}
	}
	for i := range count {
		gaps := s.EntryGaps
		if i%2 == 1 {
			gaps = s.BackGaps
		}
		p.addGaps(p.inPart+i, gaps, OffSurface)
	}
	for k := p.inPart; k < len(p.legs); k++ {
		for _, b := range s.inside() {
			p.addWall(k, b)
		}
	}
	for _, v := range s.Voids {
		p.voids = append(p.voids, newVoid(v))
	}
}

// Paths returns the transmitting and the receiving path of a view, both from the array to the
// point. By reciprocity the time of the receiving path is the same in both directions. For a
// symmetric view both results are the same path.
func (s *Setup) Paths(v View) (transmit, receive *Path, err error) {
	transmit, err = s.Path(v.Transmit)
	if err != nil {
		return nil, nil, err
	}
	if v.Symmetric() {
		return transmit, transmit, nil
	}
	receive, err = s.Path(v.outbound())
	return transmit, receive, err
}
