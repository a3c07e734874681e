// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// grids returns a grid for each view, in the section of the array. The ranges come from the flags.
// A missing range follows from the set-up. A grid of too few pixels is an error, and so is a grid
// that is too large for the memory.
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

// grid returns the grid of a view.
func (in *inspection) grid(v wedge.View) (tfm.Grid, error) {
	o, elements := in.options, in.record.Capture.Array.Elements
	from, to := in.record.UsualSection(v)
	x, z := span{from.X, to.X}, span{from.Z, to.Z}
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
			return g, fmt.Errorf("element %d at y = %v mm, element 0 at %v mm: "+
				"want an array in one section of constant y", i, e.Y*1e3, g.Origin.Y*1e3)
		}
	}
	return g, nil
}

// checkStep returns an error for a grid of too few pixels.
func (in *inspection) checkStep(g tfm.Grid) error {
	const least = 4
	if g.Cols < least || g.Rows < least {
		step := in.options.step * 1e3
		return fmt.Errorf("-step %.4g: only %d × %d pixels of %.4g mm; want at least %d each way",
			step, g.Cols, g.Rows, step, least)
	}
	return nil
}

// checkMemory returns an error for a grid whose tables need more memory than the options allow.
func (in *inspection) checkMemory(v wedge.View, g tfm.Grid) error {
	need := memory(in.record, v, g)
	if need > in.options.memory {
		return fmt.Errorf("%d × %d pixels for %d elements need about %.1f GB, "+
			"above the %.3g GB of -memory: want a larger -step, smaller ranges -x and -z, or more -memory",
			g.Cols, g.Rows, len(in.record.Capture.Array.Elements), need/1e9, in.options.memory/1e9)
	}
	return nil
}

// memory returns a rough upper bound of the memory for a view, in bytes.
func memory(r *npy.Record, v wedge.View, g tfm.Grid) float64 {
	const (
		point  = 24                      // its coordinates
		entry  = 4 + 4.25 + 4            // a time in a table, and its delay in the plan
		pixel  = 8 + 4 + 4 + 4 + 8 + 4*4 // image, envelope, levels, sizing, picture
		sample = 4 + 16                  // of a trace: the sample and its packed form
	)
	tables := 2.0
	if v.Symmetric() {
		tables = 1
	}
	elements := float64(len(r.Capture.Array.Elements))
	pixels, samples := float64(g.Len()), float64(len(r.Capture.Data))
	return pixels*(point+tables*elements*entry+pixel) + samples*sample
}
