// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// scanJSON describes the frames of a scan, in order.
type scanJSON struct {
	Indices   []int     `json:"indices"`
	Times     []float64 `json:"times_s"`
	Positions []float64 `json:"positions_m"`
	Across    []float64 `json:"across_m,omitempty"` // missing if all are 0
	Counts    []int64   `json:"counts,omitempty"`   // missing if all are 0
}

func newScanJSON(frames []fmc.Frame) *scanJSON {
	j := &scanJSON{}
	if slices.ContainsFunc(frames, func(f fmc.Frame) bool { return f.Across != 0 }) {
		j.Across = make([]float64, len(frames))
	}
	if slices.ContainsFunc(frames, func(f fmc.Frame) bool { return f.Count != 0 }) {
		j.Counts = make([]int64, len(frames))
	}
	for i, f := range frames {
		if j.Across != nil {
			j.Across[i] = f.Across
		}
		if j.Counts != nil {
			j.Counts[i] = f.Count
		}
		j.Indices = append(j.Indices, f.Index)
		j.Times = append(j.Times, f.Time)
		j.Positions = append(j.Positions, f.Position)
	}
	return j
}

// frameLength returns the greatest length in bytes of the numbers of f in the .json file, with the
// commas after them. It formats into buf and does not allocate.
func frameLength(f fmc.Frame, buf []byte) int {
	n := len(strconv.AppendInt(buf[:0], int64(f.Index), 10)) +
		len(strconv.AppendInt(buf[:0], f.Count, 10))
	for _, v := range []float64{f.Time, f.Position, f.Across} {
		format := byte('f') // as encoding/json chooses it
		if size := math.Abs(v); size != 0 && (size < 1e-6 || size >= 1e21) {
			format = 'e'
		}
		n += len(strconv.AppendFloat(buf[:0], v, format, -1, 64))
	}
	return n + 5*len(", ")
}

// decodeScan decodes the lists of a scan into frames. The frames are allocated after the lists are
// known to be of one length, because a frame takes more memory than one number in the file.
func (d *description) decodeScan(v value) error {
	var j scanJSON
	n := -1 // frames
	err := v.object([]field{
		{"indices", frameList(&n, &j.Indices, value.integer)},
		{"times_s", frameList(&n, &j.Times, value.number)},
		{"positions_m", frameList(&n, &j.Positions, value.number)},
	},
		field{"across_m", frameList(&n, &j.Across, value.number)},
		field{"counts", frameList(&n, &j.Counts, value.integer64)})
	if err != nil {
		return err
	}
	if n == 0 {
		return errors.New("lists of 0 frames: want at least 1")
	}
	d.frames = make([]fmc.Frame, n)
	for i := range d.frames {
		f := fmc.Frame{Index: j.Indices[i], Time: j.Times[i], Position: j.Positions[i]}
		if j.Across != nil {
			f.Across = j.Across[i]
		}
		if j.Counts != nil {
			f.Count = j.Counts[i]
		}
		d.frames[i] = f
	}
	return nil
}

// frameList returns the decoder of a list with one element for each frame. frames is the length of
// the lists before, -1 for none.
func frameList[T any](frames *int, list *[]T, element func(value) (T, error)) func(value) error {
	return func(v value) error {
		n := v.count()
		if *frames < 0 {
			*frames = n
		}
		if n != *frames {
			return fmt.Errorf("list of %d frames: want %d as in the other lists", n, *frames)
		}
		*list = make([]T, n)
		return v.each(func(i int, v value) (err error) {
			(*list)[i], err = element(v)
			return err
		})
	}
}

// validateFrames checks the list of frames.
func (d *description) validateFrames() error {
	last := -1
	for _, f := range d.frames {
		if err := validateFrame(f, last); err != nil {
			return err
		}
		last = f.Index
	}
	return nil
}

// validateFrame checks f, except for its capture. last is the index of the frame before, -1 if
// there is none.
func validateFrame(f fmc.Frame, last int) error {
	if f.Index <= last {
		return setupError("scan.indices", f.Index,
			fmt.Sprintf("more than %d, the index of the frame before", last))
	}
	const finite = "a finite value"
	if !number.Finite(f.Time) {
		return setupError("scan.times_s",
			fmt.Sprintf("%v of frame %d", f.Time, f.Index), finite)
	}
	if !number.Finite(f.Position) {
		return setupError("scan.positions_m",
			fmt.Sprintf("%v of frame %d", f.Position, f.Index), finite)
	}
	if !number.Finite(f.Across) {
		return setupError("scan.across_m",
			fmt.Sprintf("%v of frame %d", f.Across, f.Index), finite)
	}
	return nil
}
