// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Plane is a rectangle of cells in the part, in any direction. X of a vector is the part's x, Y is
// the position s along the scan, Z the depth, all in m.
type Plane struct {
	Origin       r3.Vec // centre of the first cell, finite
	Across, Down r3.Vec // steps from cell to cell, finite, not 0 and at right angles to each other
	Cols, Rows   int    // numbers of cells, each at least 1; 2^24 together at most
}

func (p *Plane) validate() error {
	for _, v := range []r3.Vec{p.Origin, p.Across, p.Down} {
		if !number.Finite(v.X) || !number.Finite(v.Y) || !number.Finite(v.Z) {
			return fmt.Errorf("stack: plane %+v: want finite values", *p)
		}
	}
	across, down := r3.Norm(p.Across), r3.Norm(p.Down)
	if !number.Positive(across) || !number.Positive(down) || !(math.Abs(r3.Dot(p.Across, p.Down)) <= 1e-6*across*down) {
		return fmt.Errorf("stack: plane with the steps %v and %v m: want steps at right angles, not 0", p.Across, p.Down)
	}
	if p.Cols < 1 || p.Rows < 1 || p.Cols > maxCells/p.Rows {
		return fmt.Errorf("stack: plane of %d by %d cells: want 1 to %d", p.Cols, p.Rows, maxCells)
	}
	return nil
}

// at returns the centre of a cell.
func (p *Plane) at(col, row int) r3.Vec {
	return r3.Add(p.Origin, r3.Add(r3.Scale(float64(col), p.Across), r3.Scale(float64(row), p.Down)))
}

// axis returns an axis of the plane, and its label: a coordinate of the part if it is parallel to
// one, otherwise the distance from the first cell.
func (p *Plane) axis(step r3.Vec, cells int, other string) (Axis, string) {
	for _, axis := range []struct {
		first, along, rest1, rest2 float64
		label                      string
	}{
		{p.Origin.Y, step.Y, step.X, step.Z, alongLabel},
		{p.Origin.X, step.X, step.Y, step.Z, acrossLabel},
		{p.Origin.Z, step.Z, step.X, step.Y, depthLabel},
	} {
		if axis.along > 0 && axis.rest1 == 0 && axis.rest2 == 0 {
			return Axis{axis.first, axis.along, cells}, axis.label
		}
	}
	return Axis{0, r3.Norm(step), cells}, other
}

// Slice cuts stacks, joined in the coordinates of the part, at a plane. A cell shows the highest
// level of all views and sources there.
//
// Amplitudes are interpolated linearly: along x and z between the four pixels around the cell, and
// along s between the frames on either side. Interpolation between pixels as far apart as tfm
// allows loses up to 2 dB of a peak. Between frames it loses more, if the pitch is not small
// compared with the beam. A cell is NaN if one of the pixels that it needs has no value, or if it
// lies outside the pixels. It is also NaN if the frames on either side are more than 1.5 times the
// pitch apart. Of frames that repeat each other the first counts.
//
// The frames of a source have one skew, a multiple of π, and one X.
func Slice(ctx context.Context, sources []Source, plane Plane) (*Map, error) {
	if len(sources) == 0 {
		return nil, errors.New("stack: no sources: want at least one")
	}
	if err := plane.validate(); err != nil {
		return nil, err
	}
	across, acrossLabel := plane.axis(plane.Across, plane.Cols, "distance across")
	down, downLabel := plane.axis(plane.Down, plane.Rows, "distance down")
	m := newMap(across, down, acrossLabel, downLabel)
	m.Places = nil
	if acrossLabel == alongLabel {
		m.Missing = slices.Repeat([]bool{true}, plane.Cols)
	}
	m.States = nil
	for i := range sources {
		s := &sources[i]
		if err := s.validate(); err != nil {
			return nil, fmt.Errorf("%w (source %d)", err, i)
		}
		c, err := newCut(s)
		if err == nil {
			err = c.run(ctx, &plane, &m)
		}
		if err != nil {
			return nil, fmt.Errorf("%w (source %d)", err, i)
		}
	}
	return &m, nil
}

// cut slices one source.
type cut struct {
	source    *Source
	frames    []posed // by s
	levellers []leveller
	held      [2]int         // frames whose levels are held, as elements of frames; -1 for none
	levels    [2][][]float32 // of each held frame and view
}

func newCut(s *Source) (*cut, error) {
	c := &cut{source: s, held: [2]int{-1, -1}}
	all, err := posesOf([]Source{*s})
	if err != nil {
		return nil, err
	}
	for _, f := range all[0] {
		first := all[0][0].pose
		if math.Abs(math.Sin(f.pose.Skew)) > 1e-9 || f.pose.Skew != first.Skew || f.pose.X != first.X {
			return nil, fmt.Errorf("stack: frame %d at x = %v m with the skew %v rad, and frame %d at x = %v m with %v rad: want one x and one skew, a multiple of π",
				f.index, f.pose.X, f.pose.Skew, all[0][0].index, first.X, first.Skew)
		}
		if s.Stack.Frame(f.index).Repeats < 0 {
			c.frames = append(c.frames, f)
		}
	}
	slices.SortStableFunc(c.frames, func(a, b posed) int { return cmp.Compare(a.pose.S, b.pose.S) })
	n := s.Stack.table.layout.Grid.Len()
	for _, v := range s.views() {
		c.levellers = append(c.levellers, s.leveller(v))
		for k := range c.levels {
			c.levels[k] = append(c.levels[k], make([]float32, n))
		}
	}
	return c, nil
}

// run adds the cells of a plane to a map. It goes through the cells from frame to frame, so that
// each frame is read once.
func (c *cut) run(ctx context.Context, plane *Plane, m *Map) error {
	type cell struct{ frame, index int32 }
	var cells []cell
	for row := range plane.Rows {
		for col := range plane.Cols {
			if before, ok := c.before(plane.at(col, row).Y); ok {
				cells = append(cells, cell{int32(before), int32(row*plane.Cols + col)})
				if m.Missing != nil {
					m.Missing[col] = false
				}
			}
		}
	}
	slices.SortStableFunc(cells, func(a, b cell) int { return cmp.Compare(a.frame, b.frame) })
	for _, cell := range cells {
		if err := ctx.Err(); err != nil {
			return err
		}
		q := plane.at(int(cell.index)%plane.Cols, int(cell.index)/plane.Cols)
		level, err := c.at(int(cell.frame), q)
		if err != nil {
			return err
		}
		if held := m.Levels[cell.index]; level > held || held != held {
			m.Levels[cell.index] = level
		}
	}
	return nil
}

// tolerance is how far a place may lie beyond the last frame or pixel, as a share of the distance
// of two of them, for rounding.
const tolerance = 1e-6

// before returns the last frame at or before s, and whether s lies at it or between it and the next
// frame, if the two are close enough.
func (c *cut) before(s float64) (frame int, ok bool) {
	pitch := c.source.Stack.table.layout.Pitch
	k := sort.Search(len(c.frames), func(i int) bool { return c.frames[i].pose.S > s+tolerance*pitch }) - 1
	switch {
	case k < 0:
		return 0, false
	case s-c.frames[k].pose.S <= tolerance*pitch:
		return k, true
	}
	return k, k+1 < len(c.frames) && c.frames[k+1].pose.S-c.frames[k].pose.S <= 1.5*pitch*(1+tolerance)
}

// at returns the highest level of all views at a point between a frame and the next.
func (c *cut) at(frame int, q r3.Vec) (float32, error) {
	highest := float32(math.NaN())
	g := c.source.Stack.table.layout.Grid
	pose := c.frames[frame].pose
	x := (q.X - pose.X) * math.Cos(pose.Skew)
	col, right, ok := between((x-g.Origin.X)/g.Step.X, g.Cols)
	row, lower, ok2 := between((q.Z-g.Origin.Z)/g.Step.Z, g.Rows)
	if !ok || !ok2 {
		return highest, nil
	}
	after := 0.0
	if beyond := q.Y - pose.S; beyond > tolerance*c.source.Stack.table.layout.Pitch {
		after = beyond / (c.frames[frame+1].pose.S - pose.S)
	}
	var weights [2][4]float64
	for corner := range 4 {
		w := [2]float64{1 - right, right}[corner&1] * [2]float64{1 - lower, lower}[corner>>1]
		weights[0][corner], weights[1][corner] = w*(1-after), w*after
	}
	for v := range c.levellers {
		amplitude := 0.0
		for k := range 2 {
			for corner, w := range weights[k] {
				if w == 0 {
					continue
				}
				levels, err := c.frameLevels(frame + k)
				if err != nil {
					return highest, err
				}
				pixel := (row+corner>>1)*g.Cols + col + corner&1
				amplitude += w * math.Pow(10, float64(levels[v][pixel])/20)
			}
		}
		if level := float32(20 * math.Log10(amplitude)); level > highest || highest != highest {
			highest = level
		}
	}
	return highest, nil
}

// between returns the pixel before a place in an axis of n pixels, and the share of the way to the
// next pixel. A place at the last pixel has the share 0.
func between(at float64, n int) (before int, share float64, ok bool) {
	if nearest := math.Round(at); math.Abs(at-nearest) <= tolerance {
		at = nearest
	}
	if !(at >= 0) || at > float64(n-1) {
		return 0, 0, false
	}
	floor := math.Floor(at)
	return int(floor), at - floor, true
}

// frameLevels returns the levels of a frame in each view. Two frames that follow each other are
// held.
func (c *cut) frameLevels(frame int) ([][]float32, error) {
	k := frame % 2
	if c.held[k] == frame {
		return c.levels[k], nil
	}
	l := &c.source.Stack.table.layout
	n := l.Grid.Len()
	c.held[k] = -1
	err := c.source.Stack.read(c.frames[frame].index, func(values, _ []byte) {
		for i := range c.levellers {
			v := &c.levellers[i]
			v.decodeLevels(c.levels[k][i], values[v.view*n*l.Values.size():])
		}
	})
	if err != nil {
		return nil, err
	}
	c.held[k] = frame
	return c.levels[k], nil
}
