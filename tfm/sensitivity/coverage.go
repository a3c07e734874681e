// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Coverage returns the share of the area of closed outlines in which the reference reflector shows
// with at least the given level in one of the maps. The share is from 0 to 1. The outlines enclose
// the metal of a weld, for example (field Metal of joint.Outlines). An outline within another one
// encloses an opening.
//
// The level is in dB relative to the reference, an amplitude of a map: finite and above 0. All maps
// must have one grid. A part of the area that lies beyond the grid is not covered. Along x the
// areas are exact, along z they are summed over the rows of pixels.
func Coverage(area []wedge.Outline, reference, levelDB float64, maps ...*Map) (share float64, err error) {
	if err := checkCoverage(area, reference, levelDB, maps); err != nil {
		return 0, err
	}
	g := maps[0].Grid
	least := float32(reference * math.Pow(10, levelDB/20))
	first, last, err := rowsOf(area, g.Origin.Z, g.Step.Z)
	if err != nil {
		return 0, err
	}
	covered, total := 0.0, 0.0
	for row := first; row <= last; row++ {
		for _, span := range spansAt(area, g.Origin.Z+float64(row)*g.Step.Z) {
			total += span[1] - span[0]
			if row < 0 || row >= g.Rows {
				continue
			}
			// In columns; column c reaches from c-½ to c+½.
			from, to := (span[0]-g.Origin.X)/g.Step.X, (span[1]-g.Origin.X)/g.Step.X
			for c := max(0, int(math.Round(from))); c < g.Cols && float64(c)-0.5 < to; c++ {
				if shows(maps, row*g.Cols+c, least) {
					covered += g.Step.X * max(0, min(to, float64(c)+0.5)-max(from, float64(c)-0.5))
				}
			}
		}
	}
	if !(total > 0) {
		return 0, fmt.Errorf("sensitivity: area thinner than a row of pixels, %v m: want a finer grid", g.Step.Z)
	}
	return min(1, covered/total), nil
}

// Hide returns a copy of a map without the pixels that an image of the view leaves blank
// ([tfm.Blank]). An example is a pixel whose echoes come after the end of the record. The states
// are the states of the image, one a pixel. Nil stands for none.
func (m *Map) Hide(states []tfm.State) (*Map, error) {
	if states != nil && len(states) != len(m.Data) {
		return nil, fmt.Errorf("sensitivity: %d states for a map of %d pixels: want one a pixel, or nil", len(states), len(m.Data))
	}
	hidden := *m
	hidden.Data, hidden.States = slices.Clone(m.Data), slices.Clone(m.States)
	for i, s := range states {
		if s&tfm.Blank == 0 {
			continue
		}
		if hidden.States == nil {
			hidden.States = make([]tfm.State, len(m.Data))
		}
		hidden.Data[i], hidden.States[i] = 0, hidden.States[i]|s
	}
	return &hidden, nil
}

// checkCoverage reports the first argument that is out of range.
func checkCoverage(area []wedge.Outline, reference, levelDB float64, maps []*Map) error {
	if err := checkMaps(maps); err != nil {
		return err
	}
	for _, m := range maps {
		if m.Grid != maps[0].Grid {
			return errors.New("sensitivity: maps of different grids: want one grid")
		}
	}
	if err := checkLevel(reference, levelDB); err != nil {
		return err
	}
	return checkArea(area)
}

// checkMaps reports the first map that New does not make.
func checkMaps(maps []*Map) error {
	if len(maps) == 0 || slices.Contains(maps, nil) {
		return errors.New("sensitivity: coverage without a map: want at least one, not nil")
	}
	for i, m := range maps {
		if m.Validate() != nil || len(m.Data) != m.Len() {
			return fmt.Errorf("sensitivity: map %d of %d values: want one a pixel, as New makes it", i, len(m.Data))
		}
	}
	return nil
}

// checkLevel reports a reference or a level that is out of range.
func checkLevel(reference, levelDB float64) error {
	if !number.Positive(reference) {
		return fmt.Errorf("sensitivity: reference amplitude %v: want a finite value above 0", reference)
	}
	if !number.Finite(levelDB) {
		return fmt.Errorf("sensitivity: level %v dB: want a finite value", levelDB)
	}
	return nil
}

// checkArea reports the first outline that is not closed or not finite.
func checkArea(area []wedge.Outline) error {
	if len(area) == 0 {
		return errors.New("sensitivity: no outline: want at least one")
	}
	for i, o := range area {
		if len(o) < 4 || o[0] != o[len(o)-1] {
			return fmt.Errorf("sensitivity: outline %d of %d points: want at least 4, the last equal to the first", i, len(o))
		}
		for _, p := range o {
			if !number.Finite(p.X) || !number.Finite(p.Y) {
				return fmt.Errorf("sensitivity: outline %d through (%v, %v) m: want finite points", i, p.X, p.Y)
			}
		}
	}
	return nil
}

// rowsOf returns the first and the last row of pixels whose centres may lie within the outlines.
func rowsOf(area []wedge.Outline, origin, step float64) (first, last int, err error) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, o := range area {
		for _, p := range o {
			low, high = min(low, p.Y), max(high, p.Y)
		}
	}
	top, bottom := math.Floor((low-origin)/step), math.Ceil((high-origin)/step)
	if most := 1e8; !(top >= -most && bottom <= most) {
		return 0, 0, fmt.Errorf("sensitivity: area from z = %v to %v m: want it within %.3g m of the grid", low, high, most*step)
	}
	return int(top), int(bottom), nil
}

// spansAt returns the ranges of x in which the depth z lies within the outlines.
func spansAt(area []wedge.Outline, z float64) (spans [][2]float64) {
	var crossings []float64
	for _, o := range area {
		for i, a := range o[:len(o)-1] {
			b := o[i+1]
			if (a.Y > z) != (b.Y > z) {
				crossings = append(crossings, crossing(a, b, z))
			}
		}
	}
	slices.Sort(crossings)
	for i := 0; i+1 < len(crossings); i += 2 {
		spans = append(spans, [2]float64{crossings[i], crossings[i+1]})
	}
	return spans
}

// crossing returns the x at which the line from a to b has the depth z.
func crossing(a, b r2.Vec, z float64) float64 { return a.X + (z-a.Y)/(b.Y-a.Y)*(b.X-a.X) }

// shows reports whether a pixel of one of the maps has at least the given amplitude.
func shows(maps []*Map, pixel int, least float32) bool {
	return slices.ContainsFunc(maps, func(m *Map) bool { return m.Data[pixel] >= least })
}
