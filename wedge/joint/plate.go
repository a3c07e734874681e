// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Plate is a plate of a joint, on whose entry surface an array can stand, and in which
// beams skip between that and the back wall. Both are flat away from the weld.
type Plate struct {
	Name           string
	Top, Thickness float64 // depth of the entry surface, and how far below it the back wall is, m
	// EntryGaps and BackGaps are the ranges of x in which the surfaces are missing or
	// covered: under the cap and the root bead if they are not flush, where the
	// plate is tapered, where a web or another plate is welded on, and beyond
	// the end of the plate. They are what a wedge.Setup calls so.
	EntryGaps, BackGaps []wedge.Interval
}

// Surfaces returns the entry surface and the back wall as a wedge.Setup takes them.
func (p Plate) Surfaces() (entry, back *wedge.Plane, err error) {
	if entry, err = wedge.HorizontalPlane(p.Top); err != nil {
		return nil, nil, err
	}
	back, err = wedge.HorizontalPlane(p.Top + p.Thickness)
	return entry, back, err
}

// DepthFraction returns the depth of q below the entry surface as a share of the
// thickness: 0 at the entry surface, 1 at the back wall.
func (p Plate) DepthFraction(q r2.Vec) float64 { return (q.Y - p.Top) / p.Thickness }

// shifted returns the plate moved by d.
func (p Plate) shifted(d r2.Vec) Plate {
	p.Top += d.Y
	move := func(gaps []wedge.Interval) (moved []wedge.Interval) {
		for _, g := range gaps {
			moved = append(moved, wedge.Interval{Min: g.Min + d.X, Max: g.Max + d.X})
		}
		return moved
	}
	p.EntryGaps, p.BackGaps = move(p.EntryGaps), move(p.BackGaps)
	return p
}

// Setup returns the joint of a material with an array in contact with one of its plates:
// the surfaces of the plate with their gaps, and the voids, arcs to within
// the tolerance (m, above 0). For an array on a wedge set the Coupling.
func (j *Joint) Setup(p Plate, part material.Isotropic, tolerance float64) (*wedge.Setup, error) {
	entry, back, err := p.Surfaces()
	if err != nil {
		return nil, err
	}
	voids, err := j.Outlines(tolerance)
	if err != nil {
		return nil, err
	}
	s := &wedge.Setup{Part: part, Entry: entry, Back: back, EntryGaps: p.EntryGaps, BackGaps: p.BackGaps, Voids: voids}
	return s, s.Validate()
}
