// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"fmt"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// Map holds thicknesses over a surface. Its cells are the places of a lattice: row i lies at the
// position S[i] along the scan, column j at the position X[j] along the array.
type Map struct {
	S, X     []float64 // m, finite, in ascending order
	Readings []Reading // row-major: the reading of row i and column j is Readings[i*len(X)+j]
}

// NewMap returns a map of places in m that were not scanned: at least one position along the scan
// and one along the array, each finite and in ascending order.
func NewMap(s, x []float64) (*Map, error) {
	for _, axis := range []struct {
		name string
		at   []float64
	}{{"s", s}, {"x", x}} {
		if len(axis.at) == 0 {
			return nil, fmt.Errorf("thickness: map without positions %s: want at least one", axis.name)
		}
		for i, v := range axis.at {
			if !number.Finite(v) || i > 0 && !(v > axis.at[i-1]) {
				return nil, fmt.Errorf("thickness: position %s[%d] %v m: want finite positions in ascending order", axis.name, i, v)
			}
		}
	}
	m := &Map{S: append([]float64(nil), s...), X: append([]float64(nil), x...)}
	m.Readings = make([]Reading, len(s)*len(x))
	for i := range m.Readings {
		m.Readings[i] = without(NotScanned, FirstEcho)
	}
	return m, nil
}

// Read reads the A-scans of one frame into the cells of a row, from a column on: one A-scan for a
// cell. A cell that was read before keeps the reading that counts, and of two readings that count
// the thinner one.
func (m *Map) Read(r *Reader, row, column int, traces []*ascan.Trace) error {
	if row < 0 || row >= len(m.S) || column < 0 || column > len(m.X)-len(traces) {
		return fmt.Errorf("thickness: %d A-scans at row %d, column %d: want places in a map of %d rows and %d columns", len(traces), row, column, len(m.S), len(m.X))
	}
	if err := r.validate(); err != nil {
		return err
	}
	var buffer []float64
	for j, t := range traces {
		if err := checkTrace(t); err != nil {
			return fmt.Errorf("row %d, column %d: %w", row, column+j, err)
		}
		s := newSignal(t, buffer)
		buffer = s.height
		cell := &m.Readings[row*len(m.X)+column+j]
		*cell = preferred(*cell, r.read(s))
	}
	return nil
}

// preferred returns the reading that a map keeps of an old and a new reading of a cell.
func preferred(old, new Reading) Reading {
	switch {
	case old.State.Counts() && !new.State.Counts(),
		old.State.Counts() && old.Thickness <= new.Thickness:
		return old
	}
	return new
}

// area returns the area of a cell in m². In a map of one row or column the cells are 1 m wide.
func (m *Map) area(cell int) float64 {
	return width(m.S, cell/len(m.X)) * width(m.X, cell%len(m.X))
}

// width returns the length of the part of an axis in m that belongs to a position.
func width(at []float64, i int) float64 {
	if len(at) == 1 {
		return 1
	}
	from, to := edges(at, i)
	return to - from
}

// edges returns the ends of the part of an axis in m that belongs to a position: the middles
// between it and its neighbours. The outer half of the first and of the last position is as wide as
// the inner half.
func edges(at []float64, i int) (from, to float64) {
	last := len(at) - 1
	switch {
	case last == 0:
		return at[0], at[0]
	case i == 0:
		return at[0] - (at[1]-at[0])/2, (at[0] + at[1]) / 2
	case i == last:
		return (at[last-1] + at[last]) / 2, at[last] + (at[last]-at[last-1])/2
	}
	return (at[i-1] + at[i]) / 2, (at[i] + at[i+1]) / 2
}
