// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// Side is a side of a [Surface].
type Side uint8

// The sides of a surface.
const (
	Near Side = iota // [Surface.Depth] is negative
	Far              // [Surface.Depth] is positive
)

// Leg is a straight piece of a path.
type Leg struct {
	Speed float64       // m/s, finite and above 0
	Mode  material.Mode // the wave on this leg; the solver uses Speed only
}

// Crossing is the place where one leg ends and the next begins. The zero values of From and
// Reflects stand for a refraction from the near side to the far side.
type Crossing struct {
	Surface  Surface
	From     Side // the side on which the ray arrives
	Reflects bool // whether the ray leaves on the side on which it arrives
}

// after returns the side on which the ray leaves.
func (c Crossing) after() Side {
	if c.Reflects {
		return c.From
	}
	return 1 - c.From
}

// bound keeps a point on one side of a surface.
type bound struct {
	surface Surface
	side    Side
}

// tolerance is the distance, in metres, up to which a point on the wrong side of a surface counts
// as a point on the surface. It is far below any measured length, and far above the rounding
// errors of coordinates.
const tolerance = 1e-9

// contactTolerance is the largest distance, in metres, between the surface and an element in
// contact. It is larger than the rounding of coordinates, and smaller than a layer of couplant
// that matters.
const contactTolerance = 10e-6

// admits reports whether p lies on the side of the bound, or on its surface.
func (b bound) admits(p r3.Vec) bool {
	depth := b.atLeast(p)
	if math.Abs(depth) > tolerance {
		return depth > 0
	}
	depth = b.surface.Depth(p)
	if b.side == Near {
		return depth <= tolerance
	}
	return depth >= -tolerance
}

// atLeast returns a depth of p that is at most its distance from the surface. It is positive on
// the side of the bound. Through measured surfaces it is much faster than Depth.
func (b bound) atLeast(p r3.Vec) float64 {
	depth := 0.0
	switch s := b.surface.(type) {
	case *profile:
		depth = s.atLeast(p)
	case *heightField:
		depth = s.atLeast(p)
	default:
		depth = s.Depth(p)
	}
	if b.side == Near {
		return -depth
	}
	return depth
}

// Path is a sequence of legs with a crossing between each leg and the next. It is immutable and
// safe for concurrent use.
type Path struct {
	legs      []Leg
	crossings []Crossing
	starts    []bound // the path may start here
	contact   Surface // the surface of an array in contact, else nil
	ends      []bound // the path may end here
	walls     []wall  // no leg may pass through them
	sides     []bound // legs in the part must begin on the right side of them
	gaps      []gap   // no crossing may lie in them
	voids     []void  // no leg in the part may pass through them
	inPart    int     // the first leg in the part
}

// NewPath returns the path of the legs, in order of travel, with a crossing between each leg and
// the next. It copies both slices. There must be at least one leg, and one crossing fewer than
// legs. The error names the leg or crossing at fault.
func NewPath(legs []Leg, crossings []Crossing) (*Path, error) {
	if len(legs) == 0 || len(crossings) != len(legs)-1 {
		return nil, fmt.Errorf("wedge: path of %d legs and %d crossings: want at least 1 leg and one crossing fewer than legs",
			len(legs), len(crossings))
	}
	for i, leg := range legs {
		if err := checkPositive(fmt.Sprintf("speed of leg %d", i), leg.Speed, "m/s"); err != nil {
			return nil, err
		}
	}
	for i, c := range crossings {
		if c.From > Far {
			return nil, fmt.Errorf("wedge: crossing %d from side %d: want Near or Far", i, c.From)
		}
		if err := checkSurface(fmt.Sprintf("surface of crossing %d", i), c.Surface); err != nil {
			return nil, err
		}
	}
	p := &Path{legs: slices.Clone(legs), crossings: slices.Clone(crossings)}
	if n := len(crossings); n > 0 {
		first, last := crossings[0], crossings[n-1]
		p.starts = []bound{{first.Surface, first.From}}
		p.ends = []bound{{last.Surface, last.after()}}
	}
	return p, nil
}

// Legs returns a copy of the legs of p, in order of travel.
func (p *Path) Legs() []Leg { return slices.Clone(p.legs) }

// extruded reports whether every surface of p is extruded.
func (p *Path) extruded() bool {
	for _, c := range p.crossings {
		if !c.Surface.Extruded() {
			return false
		}
	}
	return true
}

// startsAt reports whether a ray of p can start at q.
func (p *Path) startsAt(q r3.Vec) bool {
	if p.contact != nil && !(math.Abs(p.contact.Depth(q)) <= contactTolerance) {
		return false
	}
	return admitted(p.starts, q)
}

// endsAt reports whether a ray of p can end at q.
func (p *Path) endsAt(q r3.Vec) bool { return admitted(p.ends, q) }

// admitted reports whether q is finite and lies on the side of every bound.
func admitted(bounds []bound, q r3.Vec) bool {
	if !finite(q) {
		return false
	}
	for _, b := range bounds {
		if !b.admits(q) {
			return false
		}
	}
	return true
}
