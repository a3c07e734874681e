// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Plate is a plate of a joint. An array can stand on its entry surface. Beams skip between its
// entry surface and its back wall, which are flat away from the weld.
type Plate struct {
	Name      string
	Top       float64 // depth of the entry surface, m
	Thickness float64 // distance of the back wall below the entry surface, m
	// EntryGaps and BackGaps are the ranges of x in which the entry surface and the back wall are
	// missing or covered. They are the gaps of a wedge.Setup. A gap lies under a cap or a root bead
	// that is not flush, along a taper, where a web or another plate is welded on, and beyond the
	// end of the plate.
	EntryGaps, BackGaps []wedge.Interval
}

// DepthFraction returns the depth of q below the entry surface as a share of the thickness: 0 at
// the entry surface, 1 at the back wall.
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

// Setup returns the set-up of an array in contact with a plate of the joint, which is made of the
// given material. The set-up holds the surfaces of the plate with their gaps, and the voids of the
// joint. Arcs are replaced by chords within the tolerance, in m, from 1e-6 to 0.25. For an array on
// a wedge, set the Coupling.
func (j *Joint) Setup(p Plate, part material.Isotropic, tolerance float64) (*wedge.Setup, error) {
	entry, err := wedge.HorizontalPlane(p.Top)
	if err != nil {
		return nil, err
	}
	back, err := wedge.HorizontalPlane(p.Top + p.Thickness)
	if err != nil {
		return nil, err
	}
	outlines, err := j.Outlines(tolerance)
	if err != nil {
		return nil, err
	}
	s := &wedge.Setup{
		Part: part, Entry: entry, Back: back,
		EntryGaps: p.EntryGaps, BackGaps: p.BackGaps, Voids: outlines.Voids,
	}
	return s, s.Validate()
}
