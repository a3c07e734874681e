// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Axis is a row of cells of equal width along an axis of the part. Cell i has its centre at
// First + i·Step.
type Axis struct {
	First float64 // centre of the first cell in m, finite
	Step  float64 // width of a cell in m, finite and above 0
	Cells int     // 1 to 2^24
}

// NewAxis returns the axis whose first cell has its centre at first. The centre of the last cell
// lies at last, or less than one step before it. All lengths are in m.
func NewAxis(first, last, step float64) (Axis, error) {
	if !number.Positive(step) || !(last >= first) || !((last-first)/step < maxCells) {
		return Axis{}, fmt.Errorf("stack: axis from %v to %v m in steps of %v m: want an ascending axis, a step above 0, and at most %d cells", first, last, step, maxCells)
	}
	a := Axis{first, step, int((last-first)/step+1e-6) + 1}
	return a, a.validate("")
}

// At returns the centre of a cell in m.
func (a Axis) At(cell int) float64 { return a.First + float64(cell)*a.Step }

const maxCells = 1 << 24

func (a Axis) validate(name string) error {
	if !number.Positive(a.Step) || a.Cells < 1 || a.Cells > maxCells || !number.Finite(a.First) || !number.Finite(a.At(maxCells)) {
		return fmt.Errorf("stack: axis %s of %d cells from %v m in steps of %v m: want 1 to %d cells, finite values, a step above 0",
			name, a.Cells, a.First, a.Step, maxCells)
	}
	return nil
}

// holds reports whether a place lies within the cells.
func (a Axis) holds(at float64) bool {
	i := (at - a.First) / a.Step
	return i >= -0.5-1e-9 && i <= float64(a.Cells)-0.5+1e-9
}

// span is a range of cells, both ends included.
type span struct{ from, to int32 }

// cells returns the cells whose centres lie within half of a place, or the nearest cell if there is
// none. The place lies within the cells. So neighbours that touch leave no cell between them.
func (a Axis) cells(at, half float64) span {
	i := (at - a.First) / a.Step
	from, to := math.Ceil(i-half/a.Step-1e-9), math.Floor(i+half/a.Step+1e-9)
	if from > to {
		from = math.Round(i)
		to = from
	}
	last := float64(a.Cells - 1)
	return span{int32(min(max(from, 0), last)), int32(min(max(to, 0), last))}
}
