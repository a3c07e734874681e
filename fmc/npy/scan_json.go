// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"

	"github.com/isochron-imaging/isochron/fmc"
)

// scanJSON tells of each frame of a scan, in order.
type scanJSON struct {
	Indices   []int     `json:"indices"`
	Times     []float64 `json:"times_s"`
	Positions []float64 `json:"positions_m"`
}

func newScanJSON(frames []fmc.Frame) *scanJSON {
	j := &scanJSON{}
	for _, f := range frames {
		j.Indices = append(j.Indices, f.Index)
		j.Times = append(j.Times, f.Time)
		j.Positions = append(j.Positions, f.Position)
	}
	return j
}

// frames returns the frames that j lists, nil if there is no scan.
func (j *scanJSON) frames() ([]fmc.Frame, error) {
	if j == nil {
		return nil, nil
	}
	n := len(j.Indices)
	if n == 0 {
		return nil, setupError("scan.indices", "of 0 frames", "at least 1")
	}
	if len(j.Times) != n || len(j.Positions) != n {
		return nil, setupError("scan", fmt.Sprintf("of %d indices, %d times and %d positions", n, len(j.Times), len(j.Positions)), "as many of each")
	}
	frames := make([]fmc.Frame, n)
	last := -1
	for i := range frames {
		frames[i] = fmc.Frame{Index: j.Indices[i], Time: j.Times[i], Position: j.Positions[i]}
		if err := validateFrame(frames[i], last); err != nil {
			return nil, err
		}
		last = frames[i].Index
	}
	return frames, nil
}

// validateFrame checks all of f but its capture. last is the index of the frame
// before, -1 if there is none.
func validateFrame(f fmc.Frame, last int) error {
	if f.Index <= last {
		return setupError("scan.indices", f.Index, fmt.Sprintf("more than %d, that of the frame before", last))
	}
	if !finite(f.Time) {
		return setupError("scan.times_s", fmt.Sprintf("%v of frame %d", f.Time, f.Index), "a finite value")
	}
	if !finite(f.Position) {
		return setupError("scan.positions_m", fmt.Sprintf("%v of frame %d", f.Position, f.Index), "a finite value")
	}
	return nil
}
