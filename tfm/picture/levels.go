// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm/stack"
)

// LevelMap returns the map of a projection or of a slice of a scan, from the floor, in dB below 0,
// to 0 dB. Its axes are the axes of the levels: in a plan view X of a point is the position s, and Y
// is x. Cells without a level are "no data", and columns that no frame shows are "no frame": neither
// says that nothing lies there. A cell of a map with more than 2000 columns or rows shows the
// highest of several levels, and "no frame" only if no frame shows any of them. Gaps holds each run of
// columns that no frame shows, so that a mark above the map shows a single lost frame of a long scan.
//
// The caller may set Title, Caption, Weld, Reflectors and Marks.
func LevelMap(m *stack.Map, floor float64) (*Map, error) {
	if m == nil {
		return nil, errors.New("picture: no levels, nil: want a projection or a slice")
	}
	if !(floor < 0) || !number.Finite(floor) {
		return nil, fmt.Errorf("picture: floor %v dB: want a finite value below 0", floor)
	}
	cols, rows := m.Across.Cells, m.Down.Cells
	if cols < 1 || rows < 1 || len(m.Levels)%cols != 0 || len(m.Levels)/cols != rows || m.Missing != nil && len(m.Missing) != cols {
		return nil, fmt.Errorf("picture: %d levels and %d missing columns in %d columns and %d rows: want one level a cell, and one or no mark a column",
			len(m.Levels), len(m.Missing), cols, rows)
	}
	block := (max(cols, rows) + sharpest - 1) / sharpest
	p := &Map{
		From:    r2.Vec{X: m.Across.First - m.Across.Step/2, Y: m.Down.First - m.Down.Step/2},
		Across:  m.AcrossLabel + " / mm",
		Down:    m.DownLabel + " / mm",
		Columns: (cols + block - 1) / block, Rows: (rows + block - 1) / block,
		Quantity: "level / dB", Low: floor, High: 0,
		Reasons: []string{"no data", "no frame"},
		Stretch: true,
		Gaps:    gapsOf(m),
	}
	p.To = r2.Vec{
		X: p.From.X + float64(p.Columns*block)*m.Across.Step,
		Y: p.From.Y + float64(p.Rows*block)*m.Down.Step,
	}
	p.Values, p.Reason = make([]float64, p.Columns*p.Rows), make([]uint8, p.Columns*p.Rows)
	for i := range p.Values {
		p.Values[i] = math.NaN()
		if m.Missing != nil {
			p.Reason[i] = noFrame
		}
	}
	for i, level := range m.Levels {
		j := i/cols/block*p.Columns + i%cols/block
		if v := float64(level); !(v <= p.Values[j]) && !math.IsNaN(v) {
			p.Values[j] = v
		}
		if m.Missing != nil && !m.Missing[i%cols] {
			p.Reason[j] = noData
		}
	}
	return p, nil
}

// gapsOf returns the ends of each run of columns that no frame shows.
func gapsOf(m *stack.Map) (gaps [][2]float64) {
	for c, missing := range m.Missing {
		switch {
		case !missing:
		case c > 0 && m.Missing[c-1]:
			gaps[len(gaps)-1][1] = m.Across.At(c) + m.Across.Step/2
		default:
			gaps = append(gaps, [2]float64{m.Across.At(c) - m.Across.Step/2, m.Across.At(c) + m.Across.Step/2})
		}
	}
	return gaps
}

// The reasons of a map of levels.
const (
	noData = iota
	noFrame
)
