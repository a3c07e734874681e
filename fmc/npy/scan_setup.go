// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// scanJSON describes the frames of a scan, in order.
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

// frameLength returns the greatest length in bytes of the numbers of f in the .json file, with the
// commas after them. It formats into buf and does not allocate.
func frameLength(f fmc.Frame, buf []byte) int {
	n := len(strconv.AppendInt(buf[:0], int64(f.Index), 10))
	for _, v := range []float64{f.Time, f.Position} {
		format := byte('f') // as encoding/json chooses it
		if size := math.Abs(v); size != 0 && (size < 1e-6 || size >= 1e21) {
			format = 'e'
		}
		n += len(strconv.AppendFloat(buf[:0], v, format, -1, 64))
	}
	return n + 3*len(", ")
}

// decodeScan decodes the lists of a scan into frames.
func (d *description) decodeScan(v value) error {
	err := v.object([]field{
		{"indices", d.frameList(func(f *fmc.Frame, v value) (err error) {
			f.Index, err = v.integer()
			return err
		})},
		{"times_s", d.frameList(func(f *fmc.Frame, v value) (err error) {
			f.Time, err = v.number()
			return err
		})},
		{"positions_m", d.frameList(func(f *fmc.Frame, v value) (err error) {
			f.Position, err = v.number()
			return err
		})},
	})
	if err == nil && len(d.frames) == 0 {
		return errors.New("lists of 0 frames: want at least 1")
	}
	return err
}

// frameList returns the decoder of a list with one element for each frame.
func (d *description) frameList(set func(*fmc.Frame, value) error) func(value) error {
	return func(v value) error {
		n := v.count()
		if d.frames == nil {
			d.frames = make([]fmc.Frame, n)
		}
		if n != len(d.frames) {
			return fmt.Errorf("list of %d frames: want %d as in the other lists", n, len(d.frames))
		}
		return v.each(func(i int, element value) error { return set(&d.frames[i], element) })
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
	return nil
}
