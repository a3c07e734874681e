// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// grids returns a grid for each view: the ranges of the flags, or where there is none, one
// that the set-up suggests. They lie in the section of the array. A grid of hardly any
// pixels, or too large for the memory, is refused.
func (in *inspection) grids() (grids []tfm.Grid, err error) {
	for _, v := range in.views {
		g, err := in.grid(v)
		if err == nil {
			err = in.checkStep(g)
		}
		if err == nil {
			err = in.checkMemory(v, g)
		}
		if err != nil {
			return nil, fmt.Errorf("view %v: %w", v, err)
		}
		grids = append(grids, g)
	}
	return grids, nil
}

func (in *inspection) grid(v wedge.View) (tfm.Grid, error) {
	o, elements := in.options, in.record.Capture.Array.Elements
	x, z := suggestX(in.record), suggestZ(in.record, v)
	if o.x != nil {
		x = *o.x
	}
	if o.z != nil {
		z = *o.z
	}
	g, err := tfm.NewSection(x.from, x.to, z.from, z.to, o.step)
	if err != nil {
		return g, err
	}
	g.Origin.Y = elements[0].Y
	for i, e := range elements {
		if e.Y != g.Origin.Y {
			return g, fmt.Errorf("element %d at y = %v mm, element 0 at %v mm: want an array in one section of constant y", i, e.Y*1e3, g.Origin.Y*1e3)
		}
	}
	return g, nil
}

// checkStep refuses a grid of hardly any pixels.
func (in *inspection) checkStep(g tfm.Grid) error {
	const least = 4
	if g.Cols < least || g.Rows < least {
		return fmt.Errorf("-step %.4g: only %d × %d pixels of %.4g mm; want at least %d each way", in.options.step*1e3, g.Cols, g.Rows, in.options.step*1e3, least)
	}
	return nil
}

// coarsest is the share of pixels in the state CoarseGrid above which an image is refused.
const coarsest = 0.1

// checkCoarse refuses an image whose pixels lie so far apart that peaks are lost.
func (in *inspection) checkCoarse(v wedge.View, image *tfm.Image) error {
	coarse := 0
	for _, s := range image.States {
		if s&tfm.CoarseGrid != 0 {
			coarse++
		}
	}
	share := float64(coarse) / float64(image.Len())
	if share <= coarsest || in.options.coarse {
		return nil
	}
	a := in.record.Capture.Array
	return fmt.Errorf("-step %.4g: an echo between pixels may lose more than 2 dB at %.0f %% of them (wavelength %.2f mm, bandwidth %.0f %%); want a smaller step, or -coarse to accept it",
		in.options.step*1e3, 100*share, slowest(in.record, v)/a.CentreFrequency*1e3, 100*a.Bandwidth)
}

// checkMemory refuses a grid whose tables take more memory than the options allow.
func (in *inspection) checkMemory(v wedge.View, g tfm.Grid) error {
	need := memory(in.record, v, g)
	if need > in.options.memory {
		return fmt.Errorf("%d × %d pixels for %d elements take about %.1f GB, above the %.3g GB of -memory: want a larger -step, smaller ranges -x and -z, or more -memory",
			g.Cols, g.Rows, len(in.record.Capture.Array.Elements), need/1e9, in.options.memory/1e9)
	}
	return nil
}

// memory returns the bytes that a view takes at the most, roughly.
func memory(r *npy.Record, v wedge.View, g tfm.Grid) float64 {
	const (
		point  = 24                      // its coordinates
		entry  = 4 + 4.25 + 4            // a time in a table, its delay in the plan, both of these at their worst
		pixel  = 8 + 4 + 4 + 4 + 8 + 4*4 // image, envelope, levels, areas and order of sizing, picture
		sample = 4 + 16                  // of a trace, as it is and packed
	)
	tables := 2.0
	if v.Symmetric() {
		tables = 1
	}
	elements := float64(len(r.Capture.Array.Elements))
	return float64(g.Len())*(point+tables*elements*entry+pixel) + float64(len(r.Capture.Data))*sample
}

// slowest returns the speed of the slowest wave of a view in the part.
func slowest(r *npy.Record, v wedge.View) float64 {
	speed := r.Part.Longitudinal
	for _, modes := range [][]material.Mode{v.Transmit, v.Receive} {
		for _, m := range modes {
			if m == material.T {
				speed = r.Part.Transverse
			}
		}
	}
	return speed
}

// suggestX returns a range along the surface in whole millimetres: as wide as the
// array, and a little more, in normal incidence; before a wedge, as far from
// where the middle of the array points as beams of 14 to 63 degrees reach.
func suggestX(r *npy.Record) span {
	elements, thickness := r.Capture.Array.Elements, r.Thickness
	first, last := elements[0], elements[len(elements)-1]
	if first.X > last.X {
		first, last = last, first
	}
	x := span{first.X - thickness/4, last.X + thickness/4}
	if first.Z != last.Z && first.X != last.X {
		// The normal of the array, downwards, leaves its middle and meets z = 0.
		slope := (last.Z - first.Z) / (last.X - first.X)
		exit := (first.X+last.X)/2 + slope*(first.Z+last.Z)/2
		near, far := thickness/4, 2*thickness
		if slope > 0 { // the array falls towards +x, and fires towards -x
			near, far = -far, -near
		}
		x = span{exit + near, exit + far}
	}
	return span{math.Floor(x.from*1e3) * 1e-3, math.Ceil(x.to*1e3) * 1e-3}
}

// suggestZ returns a range in depth in whole millimetres: from below the echoes of
// the entry surface to beyond the far one.
func suggestZ(r *npy.Record, v wedge.View) span {
	// The ring-down of the elements, or the echo of the surface, lasts two to three
	// wavelengths (common practice, no source).
	dead := 2.0
	if r.Coupling == nil {
		dead = 3
	}
	top := min(dead*slowest(r, v)/r.Capture.Array.CentreFrequency, r.Thickness/4)
	return span{math.Floor(top*1e3) * 1e-3, (math.Ceil(r.Thickness*1e3) + 1) * 1e-3}
}
