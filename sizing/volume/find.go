// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// Find lists the indications of parallel sections, strongest first.
//
// The drop area of a pixel holds the pixels that are connected to it, in three dimensions, through
// pixels that lie no more than 6 dB below it. A pixel is the peak of an indication if it is the
// highest pixel of its drop area, as in [sizing.Find]. So areas of different indications never
// overlap. Pixels of neighbouring sections are connected if they touch, by sides, edges or corners.
// Sections on both sides of a gap are not neighbours, unless [Options].Bridge says so.
//
// Find reads each section three times, in order: for the levels, for the pixels and for the
// profiles. It holds one section, and the pixels of indications that are still open
// ([Options].Voxels). The result does not depend on anything but the sections and the options.
func Find(ctx context.Context, v Sections, options *Options) ([]Indication, error) {
	o, err := options.withDefaults()
	if err != nil {
		return nil, err
	}
	if err := checkPositions(v); err != nil {
		return nil, err
	}
	f := &finder{ctx: ctx, sections: v, options: o}
	if err := f.setLevels(); err != nil {
		return nil, err
	}
	if f.reference == 0 { // all amplitudes are 0
		return nil, nil
	}
	if err := f.sweep(f.connect); err != nil {
		return nil, err
	}
	f.close(math.MaxInt)
	if err := f.sweep(f.collect); err != nil {
		return nil, err
	}
	return f.finish()
}

// finder is one call of Find.
type finder struct {
	ctx       context.Context
	sections  Sections
	options   Options
	grid      tfm.Grid
	reference float64 // amplitude of 0 dB
	floor     float64 // amplitude below which no peak is listed
	noise     float64 // root mean square; 0 if it is not known

	labels, before []int32 // component of each pixel of this section and the section before, -1 for none
	components     []*component
	held           int // voxels of all components
	found          []*area
}

// sweep calls use with each section in order.
func (f *finder) sweep(use func(i int, env *tfm.Envelope) error) error {
	var env *tfm.Envelope
	for i := range f.sections.Len() {
		if err := f.ctx.Err(); err != nil {
			return err
		}
		var err error
		if env, err = f.sections.Section(env, i); err != nil {
			return fmt.Errorf("volume: section %d: %w", i, err)
		}
		if err := checkSection(env, &f.grid, i); err != nil {
			return err
		}
		if err := use(i, env); err != nil {
			return err
		}
	}
	return nil
}

// setLevels sets the reference, the floor and the noise.
func (f *finder) setLevels() error {
	n := f.sections.Len()
	every := (n + noiseSections - 1) / noiseSections
	highest := 0.0
	var levels, floors []float64
	look := func(i int, env *tfm.Envelope) error {
		for p, a := range env.Data {
			if float64(a) > highest && f.inZone(p) {
				highest = float64(a)
			}
		}
		if i%every != 0 {
			return nil
		}
		noise, err := sizing.EstimateNoise(env)
		if err != nil {
			return fmt.Errorf("volume: section %d: %w", i, err)
		}
		if noise.Cells > 0 {
			levels = append(levels, noise.Level)
			floors = append(floors, noise.Floor(falseCalls/float64(n)))
		}
		return nil
	}
	if err := f.sweep(look); err != nil {
		return err
	}
	f.reference = f.options.Reference
	if f.reference == 0 {
		f.reference = f.sections.Reference()
	}
	if f.reference == 0 {
		f.reference = highest
	}
	if highest == 0 {
		f.reference = 0
		return nil
	}
	floor := f.options.Floor
	if len(levels) > 0 {
		f.noise = number.Median(levels)
	}
	if floor == 0 {
		floor = smallFloor
		if len(floors) > 0 {
			floor = max(leastFloor, sizing.LevelDB(number.Median(floors), f.reference))
		}
	}
	f.floor = f.reference * sizing.Ratio(floor)
	if f.options.Level == 0 {
		f.options.Level = floor
	}
	return nil
}

// inZone reports whether a pixel takes part.
func (f *finder) inZone(p int) bool {
	x, z := f.place(p)
	return x >= f.options.X[0] && x <= f.options.X[1] && z >= f.options.Z[0] && z <= f.options.Z[1]
}

// place returns x and z of a pixel in m.
func (f *finder) place(p int) (x, z float64) {
	at := f.grid.Point(p)
	return at.X, at.Z
}

// voxel is a pixel of a section.
type voxel struct {
	section, pixel int32
	amplitude      float32
}

// component is connected pixels above the floor less the drop.
type component struct {
	parent  int32 // another component that has joined it, or itself
	voxels  []voxel
	last    int     // section that it reached last
	highest float32 // amplitude
}

// half is the ratio of the contour of an indication to its peak.
const half = 0.5

// missing returns the number of sections that are missing before section i.
func missing(v Sections, i int) int {
	if i == 0 {
		return 0
	}
	steps := (v.Position(i) - v.Position(i-1)) / v.Pitch()
	if steps <= gapShare {
		return 0
	}
	return int(min(math.Round(steps), math.MaxInt32)) - 1
}

// gap reports whether an indication ends between sections i-1 and i because sections are missing.
func (f *finder) gap(i int) bool { return missing(f.sections, i) > f.options.Bridge }

// connect adds a section to the components.
func (f *finder) connect(i int, env *tfm.Envelope) error {
	if i == 0 || f.gap(i) {
		f.close(math.MaxInt)
		f.labels, f.before = unlabelled(f.labels, len(env.Data)), unlabelled(f.before, len(env.Data))
	}
	f.labels, f.before = f.before, f.labels
	lowest := f.floor * half
	for p, a := range env.Data {
		f.labels[p] = -1
		if float64(a) < lowest || a == 0 || !f.inZone(p) {
			continue
		}
		if f.held++; f.held > f.options.Voxels {
			return fmt.Errorf("volume: more than %d pixels of open indications at section %d: want a higher floor, a smaller zone or more Voxels", f.options.Voxels, i)
		}
		own := f.join(p)
		c := f.components[own]
		c.voxels = append(c.voxels, voxel{int32(i), int32(p), a})
		c.last, c.highest = i, max(c.highest, a)
		f.labels[p] = own
	}
	f.close(i)
	return nil
}

// unlabelled returns n labels of no component.
func unlabelled(labels []int32, n int) []int32 {
	labels = slices.Grow(labels[:0], n)[:n]
	for p := range labels {
		labels[p] = -1
	}
	return labels
}

// join returns the component of a pixel of the present section, all of whose neighbours join it.
func (f *finder) join(p int) int32 {
	own := int32(-1)
	row, col := p/f.grid.Cols, p%f.grid.Cols
	meet := func(label int32) {
		if label < 0 {
			return
		}
		label = f.root(label)
		switch {
		case own < 0:
			own = label
		case own != label:
			own = f.merge(own, label)
		}
	}
	for r := max(row-1, 0); r <= min(row+1, f.grid.Rows-1); r++ {
		for c := max(col-1, 0); c <= min(col+1, f.grid.Cols-1); c++ {
			q := r*f.grid.Cols + c
			meet(f.before[q])
			if q < p {
				meet(f.labels[q])
			}
		}
	}
	if own < 0 {
		own = int32(len(f.components))
		f.components = append(f.components, &component{parent: own})
	}
	return own
}

// root returns the component that a component is part of now.
func (f *finder) root(a int32) int32 {
	for f.components[a].parent != a {
		f.components[a].parent = f.components[f.components[a].parent].parent
		a = f.components[a].parent
	}
	return a
}

// merge joins two components, and returns the one that holds both.
func (f *finder) merge(a, b int32) int32 {
	if len(f.components[a].voxels) < len(f.components[b].voxels) {
		a, b = b, a
	}
	to, from := f.components[a], f.components[b]
	to.voxels = append(to.voxels, from.voxels...)
	to.last, to.highest = max(to.last, from.last), max(to.highest, from.highest)
	from.parent, from.voxels = a, nil
	return a
}

// close splits the components that do not reach section i, and forgets them.
func (f *finder) close(i int) {
	var open []*component
	renamed := make([]int32, len(f.components))
	for k, c := range f.components {
		renamed[k] = -1
		switch {
		case c.parent != int32(k):
		case c.last == i:
			renamed[k] = int32(len(open))
			open = append(open, c)
		default:
			f.held -= len(c.voxels)
			f.split(c)
		}
	}
	for p, label := range f.labels {
		if label >= 0 {
			f.labels[p] = renamed[f.root(label)]
		}
	}
	for k, c := range open {
		c.parent = int32(k)
	}
	f.components = open
}
