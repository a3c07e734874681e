// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"math"

	"github.com/isochron-imaging/isochron/tfm"
)

// Map is levels over two axes of the part: a projection or a slice.
type Map struct {
	// Across runs to the right in a picture, Down runs down. The cell of column c and row r has the
	// index r·Across.Cells + c.
	Across, Down           Axis
	AcrossLabel, DownLabel string // such as "position s along the scan"
	// Levels are in dB relative to the reference of the view that each comes from. NaN is no data,
	// and -327.67 dB stands for all lower levels.
	Levels []float32
	// Places say where each level comes from; nil in a slice.
	Places []Place
	// States are the states of the pixels that the levels come from; nil if no pixel has any.
	States []tfm.State
	// Missing says of each column that no imaged frame lies there: nobody looked. It is nil if the
	// columns are not positions along the scan.
	Missing []bool
}

// Place is where the level of a cell comes from.
type Place struct {
	Source, View, Frame int32 // number of the source, of its view, and index of the frame; -1 for none
	Pixel               int32 // index in the grid of the stack
}

// none is the place of a cell without a level.
var none = Place{-1, -1, -1, -1}

// less orders places: by source, frame, view and pixel.
func (p Place) less(q Place) bool {
	switch {
	case p.Source != q.Source:
		return p.Source < q.Source
	case p.Frame != q.Frame:
		return p.Frame < q.Frame
	case p.View != q.View:
		return p.View < q.View
	}
	return p.Pixel < q.Pixel
}

// Peak returns the highest level and the index of the first cell that has it: NaN and -1 if no cell
// has a level.
func (m *Map) Peak() (level float32, cell int) {
	level, cell = float32(math.NaN()), -1
	for i, v := range m.Levels {
		if v > level || cell < 0 && v == v {
			level, cell = v, i
		}
	}
	return level, cell
}

// newMap returns a map without levels.
func newMap(across, down Axis, acrossLabel, downLabel string) Map {
	m := Map{Across: across, Down: down, AcrossLabel: acrossLabel, DownLabel: downLabel}
	n := across.Cells * down.Cells
	m.Levels, m.Places, m.States = make([]float32, n), make([]Place, n), make([]tfm.State, n)
	for i := range m.Levels {
		m.Levels[i], m.Places[i] = float32(math.NaN()), none
	}
	return m
}

// found is a level with its place and its state.
type found struct {
	level float32
	place Place
	state tfm.State
}

// nothing is the level of no pixel.
var nothing = found{level: float32(math.NaN()), place: none}

// add raises the level of a cell. Of equal levels the first place counts. So the order of the calls
// does not matter.
func (m *Map) add(cell int, f found) {
	held := m.Levels[cell]
	if f.level > held || held != held && f.level == f.level || f.level == held && f.place.less(m.Places[cell]) {
		m.Levels[cell], m.Places[cell], m.States[cell] = f.level, f.place, f.state
	}
}

// addSpans raises the levels of all cells of two ranges.
func (m *Map) addSpans(across, down span, f found) {
	if f.level != f.level {
		return
	}
	for d := down.from; d <= down.to; d++ {
		for a := across.from; a <= across.to; a++ {
			m.add(int(d)*m.Across.Cells+int(a), f)
		}
	}
}

// merge adds all cells of another map of the same axes.
func (m *Map) merge(n *Map) {
	for i, level := range n.Levels {
		m.add(i, found{level, n.Places[i], n.States[i]})
	}
	for i, missing := range n.Missing {
		m.Missing[i] = m.Missing[i] && missing
	}
}

// trim removes the states if there are none.
func (m *Map) trim() {
	for _, s := range m.States {
		if s != 0 {
			return
		}
	}
	m.States = nil
}
