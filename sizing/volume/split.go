// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"cmp"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/tfm"
)

// area is the drop area of one peak, while it is measured.
type area struct {
	peak     voxel
	sections []patch // of the area, in ascending order; sections between them are bridged
	states   tfm.State
	edge     bool
	merged   bool
	crestCut bool      // the highest pixel of a section lies at the edge or has a state
	window   [2][4]int // least and most row and column of the echo before and behind the area

	from, to int       // sections of the first and the last value of the profile
	profile  []float64 // highest amplitude in each section
	dx, dz   float64   // of the peak from the middle of its pixel, in pixels
}

// patch is the part of an area in one section.
type patch struct {
	section  int
	pixels   []int32 // ascending
	top      int32   // highest pixel
	x, z     float64 // centre in m, each pixel weighted by its height above the contour
	contourX [2]float64
	contourZ [2]float64
}

// split finds the indications of a component.
func (f *finder) split(c *component) {
	if float64(c.highest) < f.floor {
		return
	}
	slices.SortFunc(c.voxels, func(a, b voxel) int {
		return cmp.Or(cmp.Compare(a.section, b.section), cmp.Compare(a.pixel, b.pixel))
	})
	s := newSplitter(f, c.voxels)
	for _, peak := range s.peaks() {
		f.found = append(f.found, s.area(peak))
	}
}

// splitter finds the peaks of a component: a flood as in package sizing, in three dimensions.
type splitter struct {
	finder *finder
	voxels []voxel // by section, then by pixel
	starts []int   // of each section from the first one, and the end
	first  int
	parent []int32 // -1 for a voxel that the flood has not reached
	merged []bool  // of a root: whether it has joined with another peak that counts
	inside []bool  // of the present area
}

func newSplitter(f *finder, voxels []voxel) *splitter {
	s := &splitter{finder: f, voxels: voxels, first: int(voxels[0].section)}
	for i, v := range voxels {
		for len(s.starts) <= int(v.section)-s.first {
			s.starts = append(s.starts, i)
		}
	}
	s.starts = append(s.starts, len(voxels))
	s.parent, s.merged, s.inside = make([]int32, len(voxels)), make([]bool, len(voxels)), make([]bool, len(voxels))
	return s
}

// neighbours yields the voxels that touch voxel i, and i itself.
func (s *splitter) neighbours(i int) func(yield func(int) bool) {
	v, g := s.voxels[i], s.finder.grid
	row, col := int(v.pixel)/g.Cols, int(v.pixel)%g.Cols
	return func(yield func(int) bool) {
		for k := int(v.section) - 1; k <= int(v.section)+1; k++ {
			at := k - s.first
			if at < 0 || at+1 >= len(s.starts) {
				continue
			}
			within := s.voxels[s.starts[at]:s.starts[at+1]]
			for r := max(row-1, 0); r <= min(row+1, g.Rows-1); r++ {
				least, most := r*g.Cols+max(col-1, 0), r*g.Cols+min(col+1, g.Cols-1)
				j, _ := slices.BinarySearchFunc(within, int32(least), func(v voxel, p int32) int { return cmp.Compare(v.pixel, p) })
				for ; j < len(within) && int(within[j].pixel) <= most; j++ {
					if !yield(s.starts[at] + j) {
						return
					}
				}
			}
		}
	}
}

// Peaks count as two if the saddle between them is this much below the lower one, as in package
// sizing: 1.5 dB, and three times the level of the noise.
const (
	mergedRatio = 0.8413951416451951 // 10^(-1.5/20)
	mergedDip   = 3
)

// peaks returns the voxels not below the floor that are the highest of their drop area, in
// ascending order.
func (s *splitter) peaks() (found []int32) {
	order := make([]int32, len(s.voxels))
	for i := range order {
		order[i], s.parent[i] = int32(i), -1
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(s.voxels[b].amplitude, s.voxels[a].amplitude) })
	keep := func(i int32) {
		if float64(s.voxels[i].amplitude) >= s.finder.floor {
			found = append(found, i)
		}
	}
	for _, i := range order {
		s.parent[i] = i
		for j := range s.neighbours(int(i)) {
			if s.parent[j] < 0 {
				continue
			}
			a, b := s.root(i), s.root(int32(j))
			if a == b {
				continue
			}
			if high, low := s.voxels[a].amplitude, s.voxels[b].amplitude; high < low || high == low && a > b {
				a, b = b, a
			}
			s.parent[b] = a
			saddle, lower := float64(s.voxels[i].amplitude), float64(s.voxels[b].amplitude)
			if saddle < lower*half {
				keep(b)
			} else if lower >= half*float64(s.voxels[a].amplitude) {
				two := saddle < lower*mergedRatio && lower-saddle > mergedDip*s.finder.noise
				s.merged[a] = s.merged[a] || two || s.merged[b]
			}
		}
	}
	for i := range s.parent {
		if s.parent[i] == int32(i) {
			keep(int32(i))
		}
	}
	slices.Sort(found)
	return found
}

func (s *splitter) root(i int32) int32 {
	for s.parent[i] != i {
		s.parent[i] = s.parent[s.parent[i]]
		i = s.parent[i]
	}
	return i
}

// area returns the drop area of a peak.
func (s *splitter) area(peak int32) *area {
	f := s.finder
	a := &area{peak: s.voxels[peak], merged: s.merged[peak]}
	level := float64(a.peak.amplitude) * half
	list := []int32{peak}
	s.inside[peak] = true
	for done := 0; done < len(list); done++ {
		for j := range s.neighbours(int(list[done])) {
			if !s.inside[j] && float64(s.voxels[j].amplitude) >= level {
				s.inside[j] = true
				list = append(list, int32(j))
			}
		}
	}
	slices.Sort(list)
	highest := 0.0 // of the present section
	for _, i := range list {
		s.inside[i] = false
		v := s.voxels[i]
		if n := len(a.sections); n == 0 || a.sections[n-1].section != int(v.section) {
			a.sections = append(a.sections, patch{section: int(v.section)})
			highest = 0
		}
		p := &a.sections[len(a.sections)-1]
		p.pixels = append(p.pixels, v.pixel)
		if float64(v.amplitude) > highest {
			p.top, highest = v.pixel, float64(v.amplitude)
		}
		a.edge = a.edge || f.atEdge(int(v.pixel))
	}
	return a
}

// atEdge reports whether a pixel has a neighbour outside of the image or the zone.
func (f *finder) atEdge(p int) bool {
	g, o := f.grid, f.options
	row, col := p/g.Cols, p%g.Cols
	if row == 0 || row == g.Rows-1 || col == 0 || col == g.Cols-1 {
		return true
	}
	x, z := f.place(p)
	return x-g.Step.X < o.X[0] || x+g.Step.X > o.X[1] || z-g.Step.Z < o.Z[0] || z+g.Step.Z > o.Z[1]
}

// outline sets the centre and the contour of a patch from its section. The contour lies at level,
// and is interpolated linearly between pixels.
func (p *patch) outline(env *tfm.Envelope, level float64) {
	p.contourX = [2]float64{math.Inf(1), math.Inf(-1)}
	p.contourZ = p.contourX
	weight, x, z := 0.0, 0.0, 0.0
	for _, q := range p.pixels {
		at := env.Point(int(q))
		a := float64(env.Data[q])
		w := a - level
		if w <= 0 {
			w = 1e-9 * level
		}
		weight, x, z = weight+w, x+w*at.X, z+w*at.Z
		row, col := int(q)/env.Cols, int(q)%env.Cols
		reach := func(ok bool, q int, step float64, at float64, limits *[2]float64) {
			if ok {
				if b := float64(env.Data[q]); b < level && a > level {
					at += step * (a - level) / (a - b)
				}
			}
			limits[0], limits[1] = min(limits[0], at), max(limits[1], at)
		}
		reach(col > 0, int(q)-1, -env.Step.X, at.X, &p.contourX)
		reach(col < env.Cols-1, int(q)+1, env.Step.X, at.X, &p.contourX)
		reach(row > 0, int(q)-env.Cols, -env.Step.Z, at.Z, &p.contourZ)
		reach(row < env.Rows-1, int(q)+env.Cols, env.Step.Z, at.Z, &p.contourZ)
	}
	p.x, p.z = x/weight, z/weight
}
