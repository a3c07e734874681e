// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"cmp"
	"iter"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
)

// neighbours returns the up to eight cells that touch a cell.
func (m *Map) neighbours(cell int) iter.Seq[int] {
	row, column := cell/len(m.X), cell%len(m.X)
	return func(yield func(int) bool) {
		for i := max(0, row-1); i <= min(len(m.S)-1, row+1); i++ {
			for j := max(0, column-1); j <= min(len(m.X)-1, column+1); j++ {
				if other := i*len(m.X) + j; other != cell && !yield(other) {
					return
				}
			}
		}
	}
}

// regions returns the connected sets of the marked cells.
func (m *Map) regions(marked []bool) [][]int {
	var all [][]int
	seen := make([]bool, len(marked))
	for start := range marked {
		if !marked[start] || seen[start] {
			continue
		}
		cells := []int{start}
		seen[start] = true
		for k := 0; k < len(cells); k++ {
			for other := range m.neighbours(cells[k]) {
				if marked[other] && !seen[other] {
					seen[other] = true
					cells = append(cells, other)
				}
			}
		}
		all = append(all, cells)
	}
	return all
}

// region returns the extent of cells.
func (m *Map) region(cells []int) Region {
	r := Region{S: [2]float64{math.Inf(1), math.Inf(-1)}, X: [2]float64{math.Inf(1), math.Inf(-1)}, Cells: len(cells)}
	extend := func(extent *[2]float64, at []float64, i int) {
		from, to := edges(at, i)
		extent[0], extent[1] = min(extent[0], from), max(extent[1], to)
	}
	for _, cell := range cells {
		extend(&r.S, m.S, cell/len(m.X))
		extend(&r.X, m.X, cell%len(m.X))
		r.Area += m.area(cell)
	}
	return r
}

// pits returns the pits, the thinnest first.
func (m *Map) pits(o SummaryOptions) []Pit {
	around := m.around(o.Window)
	marked := make([]bool, len(m.Readings))
	for i, x := range m.Readings {
		margin := o.Margin
		if margin == 0 {
			margin = 0.1 * around[i]
		}
		marked[i] = x.State.Counts() && (x.Thickness < o.Limit || x.Thickness < around[i]-margin)
	}
	pits := []Pit{}
	for _, cells := range m.regions(marked) {
		deepest := slices.MinFunc(cells, func(a, b int) int {
			return cmp.Or(cmp.Compare(m.Readings[a].Thickness, m.Readings[b].Thickness), cmp.Compare(a, b))
		})
		p := Pit{Deepest: m.spot(deepest), Wall: around[deepest], Region: m.region(cells)}
		p.Depth = p.Wall - p.Deepest.Thickness
		p.Gaps = m.beside(cells)
		pits = append(pits, p)
	}
	slices.SortStableFunc(pits, func(a, b Pit) int { return cmp.Compare(a.Deepest.Thickness, b.Deepest.Thickness) })
	return pits
}

// beside returns the number of cells without a thickness that touch the given cells.
func (m *Map) beside(cells []int) int {
	found := make(map[int]bool)
	for _, cell := range cells {
		for other := range m.neighbours(cell) {
			if !m.Readings[other].State.Counts() {
				found[other] = true
			}
		}
	}
	return len(found)
}

// gaps returns the regions without a thickness, the largest first.
func (m *Map) gaps() []Region {
	marked := make([]bool, len(m.Readings))
	for i, x := range m.Readings {
		marked[i] = !x.State.Counts()
	}
	gaps := []Region{}
	for _, cells := range m.regions(marked) {
		gaps = append(gaps, m.region(cells))
	}
	slices.SortStableFunc(gaps, func(a, b Region) int { return cmp.Compare(b.Area, a.Area) })
	return gaps
}

// around returns the wall around each cell: the median of the readings that count in its block and
// the eight blocks around it. A block is a third of the window wide. It is NaN where none counts.
func (m *Map) around(window float64) []float64 {
	side := window / 3
	rows, columns := blocks(m.S, side), blocks(m.X, side)
	wide := columns[len(columns)-1] + 1
	readings := make([][]float64, (rows[len(rows)-1]+1)*wide)
	at := func(cell int) int { return rows[cell/len(m.X)]*wide + columns[cell%len(m.X)] }
	for i, x := range m.Readings {
		if x.State.Counts() {
			readings[at(i)] = append(readings[at(i)], x.Thickness)
		}
	}
	medians := make([]float64, len(readings))
	var near []float64
	for b := range readings {
		near = near[:0]
		row, column := b/wide, b%wide
		for i := max(0, row-1); i <= min(len(readings)/wide-1, row+1); i++ {
			for j := max(0, column-1); j <= min(wide-1, column+1); j++ {
				near = append(near, readings[i*wide+j]...)
			}
		}
		medians[b] = number.Median(near)
	}
	around := make([]float64, len(m.Readings))
	for i := range around {
		around[i] = medians[at(i)]
	}
	return around
}

// blocks returns the number of the block of each position, from 0 without a number left out.
func blocks(at []float64, side float64) []int {
	list := make([]int, len(at))
	start := at[0]
	for i := 1; i < len(at); i++ {
		list[i] = list[i-1]
		if at[i]-start >= side {
			list[i]++
			start = at[i]
		}
	}
	return list
}
