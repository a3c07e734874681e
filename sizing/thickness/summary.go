// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/number"
)

// SummaryOptions modifies [Map.Summary]. Nil stands for the zero value.
type SummaryOptions struct {
	// Limit is the thickness in m below which an area is reported, and below which a cell belongs
	// to a pit: finite, at least 0. 0 stands for none.
	Limit float64
	// Margin is how far a cell of a pit lies below the wall around it, in m: finite, at least 0.
	// The value 0 stands for a tenth of the wall around it.
	Margin float64
	// Window is the size in m of the region whose median is the wall around a cell: finite, at
	// least 0. A pit wider than half of it is not seen by Margin. 0 stands for 30 mm.
	Window float64
	// Bin is the width of the bins of the histogram in m, finite, at least 0. 0 stands for 0.1 mm.
	// Wider bins are taken if there would be more than 1000.
	Bin float64
}

// Summary is what a map shows. Its fields are kept as JSON. Areas are in m².
type Summary struct {
	Area     float64 `json:"area_m2"`  // of all cells
	Coverage float64 `json:"coverage"` // share of Area with a thickness
	// States holds the area of each state that occurs.
	States    []StateArea `json:"states"`
	Thickness *Statistics `json:"thickness,omitempty"` // nil if no reading counts
	// Pits are connected cells whose thickness lies below the limit, or below the wall around them
	// by the margin, the thinnest first.
	Pits []Pit `json:"pits"`
	// Gaps are connected cells without a thickness, the largest first. A pit with steep sides may
	// show as a gap only.
	Gaps []Region `json:"gaps"`
}

// StateArea is the area in one state.
type StateArea struct {
	State State   `json:"state"`
	Cells int     `json:"cells"`
	Area  float64 `json:"area_m2"` // m²
}

// Statistics are the statistics of the readings that count.
type Statistics struct {
	Mean      float64 `json:"mean_m"`      // weighted by area, m
	Deviation float64 `json:"deviation_m"` // standard deviation over the area, m
	Minimum   Spot    `json:"minimum"`     // the least reading
	// Bias is the most by which Minimum is expected to lie below the least true thickness, in m.
	// Minimum is the least of many readings, each with a random error.
	Bias float64 `json:"greatest_bias_of_minimum_m"`
	// Confirmed is the least thickness that a cell and one of its eight neighbours both have or
	// undercut, in m. It does not follow a single wrong reading, and misses a pit of one cell. It
	// is 0 if no two neighbours have a thickness.
	Confirmed float64 `json:"confirmed_minimum_m,omitempty"`
	// Below is the area in m² with a thickness below the limit. PossiblyBelow is the area in m²
	// whose thickness less 1.645 standard uncertainties is below the limit (95 %, one side).
	Below         float64   `json:"area_below_limit_m2"`
	PossiblyBelow float64   `json:"area_possibly_below_limit_m2"`
	Histogram     Histogram `json:"histogram"`
}

// Histogram counts cells. From and Width are in m. Bin i holds thicknesses from From + i·Width to
// below From + (i+1)·Width.
type Histogram struct {
	From  float64 `json:"from_m"`
	Width float64 `json:"width_m"`
	Cells []int   `json:"cells"`
}

// Spot is a cell with a thickness. The positions s and x, the thickness and its standard
// uncertainty are in m.
type Spot struct {
	S           float64 `json:"s_m"`
	X           float64 `json:"x_m"`
	Thickness   float64 `json:"thickness_m"`
	Uncertainty float64 `json:"standard_uncertainty_m"`
}

// Region is a set of connected cells: neighbours along a side or a corner.
type Region struct {
	// S and X hold the least and the greatest position of the edges of its cells in m.
	S     [2]float64 `json:"extent_s_m"`
	X     [2]float64 `json:"extent_x_m"`
	Cells int        `json:"cells"`
	Area  float64    `json:"area_m2"` // m²
}

// Pit is a region of thin wall.
type Pit struct {
	Deepest Spot    `json:"deepest"`
	Wall    float64 `json:"wall_around_m"` // median of the thickness around the deepest cell, m
	Depth   float64 `json:"depth_m"`       // Wall less the thickness of the deepest cell, m
	Region
	// Gaps is the number of cells without a thickness that touch the pit. The pit may be deeper
	// there.
	Gaps int `json:"cells_without_reading_beside"`
}

// complete replaces zeros by defaults and reports the first field outside its range.
func (o *SummaryOptions) complete() (SummaryOptions, error) {
	var full SummaryOptions
	if o != nil {
		full = *o
	}
	for _, f := range []struct {
		name  string
		value float64
	}{{"limit", full.Limit}, {"margin", full.Margin}, {"window", full.Window}, {"bin", full.Bin}} {
		if !(f.value >= 0 && number.Finite(f.value)) {
			return full, fmt.Errorf("thickness: %s %v m: want a finite value of at least 0", f.name, f.value)
		}
	}
	if full.Window == 0 {
		full.Window = 30e-3
	}
	if full.Bin == 0 {
		full.Bin = 0.1e-3
	}
	return full, nil
}

// Summary returns the statistics, pits and gaps of a map.
func (m *Map) Summary(options *SummaryOptions) (*Summary, error) {
	o, err := options.complete()
	if err != nil {
		return nil, err
	}
	s := &Summary{Pits: []Pit{}, Gaps: []Region{}}
	var byState [len(states)]StateArea
	covered := 0.0
	for i, x := range m.Readings {
		area := m.area(i)
		s.Area += area
		byState[x.State].Cells++
		byState[x.State].Area += area
		if x.State.Counts() {
			covered += area
		}
	}
	s.Coverage = covered / s.Area
	for state, a := range byState {
		if a.Cells > 0 {
			a.State = State(state)
			s.States = append(s.States, a)
		}
	}
	if covered > 0 {
		s.Thickness = m.statistics(o)
	}
	s.Pits, s.Gaps = m.pits(o), m.gaps()
	return s, nil
}

// statistics returns the statistics of at least one reading that counts.
func (m *Map) statistics(o SummaryOptions) *Statistics {
	t := new(Statistics)
	var area, sum, random float64
	n, least := 0, -1
	for i, x := range m.Readings {
		if !x.State.Counts() {
			continue
		}
		a := m.area(i)
		area += a
		sum += a * x.Thickness
		random = max(random, x.Noise)
		n++
		if least < 0 || x.Thickness < m.Readings[least].Thickness {
			least = i
		}
		if x.Thickness < o.Limit {
			t.Below += a
		}
		if x.Thickness-oneSided*x.Uncertainty < o.Limit {
			t.PossiblyBelow += a
		}
	}
	t.Mean = sum / area
	square := 0.0
	for i, x := range m.Readings {
		if x.State.Counts() {
			square += m.area(i) * (x.Thickness - t.Mean) * (x.Thickness - t.Mean)
		}
	}
	t.Deviation = math.Sqrt(square / area)
	t.Minimum = m.spot(least)
	t.Bias = expectedExtreme(n) * random
	t.Confirmed = m.confirmed()
	t.Histogram = m.histogram(t.Minimum.Thickness, o.Bin)
	return t
}

// oneSided is the factor of a normal distribution for 95 % on one side.
const oneSided = 1.6448536269514722

// expectedExtreme returns the expected largest of n independent values of the standard normal
// distribution, by Blom's approximation (G. Blom, Statistical Estimates and Transformed
// Beta-Variables, 1958). Its error is below 0.03.
func expectedExtreme(n int) float64 {
	return distuv.UnitNormal.Quantile((float64(n) - 0.375) / (float64(n) + 0.25))
}

func (m *Map) spot(cell int) Spot {
	x := m.Readings[cell]
	return Spot{m.S[cell/len(m.X)], m.X[cell%len(m.X)], x.Thickness, x.Uncertainty}
}

// confirmed returns the least thickness that two neighbours share, or 0.
func (m *Map) confirmed() float64 {
	least := math.Inf(1)
	for i, x := range m.Readings {
		if !x.State.Counts() {
			continue
		}
		for j := range m.neighbours(i) {
			if y := m.Readings[j]; y.State.Counts() {
				least = min(least, max(x.Thickness, y.Thickness))
			}
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// histogram returns the histogram of the readings that count, from below the least one.
func (m *Map) histogram(least, bin float64) Histogram {
	const most = 1000
	greatest := least
	for _, x := range m.Readings {
		if x.State.Counts() {
			greatest = max(greatest, x.Thickness)
		}
	}
	bin = max(bin, (greatest-least)/(most-2))
	h := Histogram{From: math.Floor(least/bin) * bin, Width: bin}
	h.Cells = make([]int, int((greatest-h.From)/bin)+1)
	for _, x := range m.Readings {
		if x.State.Counts() {
			at := min(max(int((x.Thickness-h.From)/bin), 0), len(h.Cells)-1)
			h.Cells[at]++
		}
	}
	return h
}
