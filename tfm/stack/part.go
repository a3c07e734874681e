// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"fmt"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
)

// Axis is a row of cells of equal width along an axis of the part. Cell i has its centre at
// First + i·Step.
type Axis struct {
	First float64 // centre of the first cell in m, finite
	Step  float64 // width of a cell in m, finite and above 0
	Cells int     // 1 to 2^24
}

// At returns the centre of a cell in m.
func (a Axis) At(cell int) float64 { return a.First + float64(cell)*a.Step }

const maxCells = 1 << 24

func (a Axis) validate(name string) error {
	if !number.Finite(a.First) || !number.Positive(a.Step) || !number.Finite(a.At(maxCells)) {
		return fmt.Errorf("stack: axis %s from %v m in steps of %v m: want finite values, the step above 0", name, a.First, a.Step)
	}
	if a.Cells < 1 || a.Cells > maxCells {
		return fmt.Errorf("stack: axis %s of %d cells: want 1 to %d", name, a.Cells, maxCells)
	}
	return nil
}

// Pose is where a frame lies in the part. The point (x, z) of the frame lies at
//
//	part x = X + x·cos(Skew),   part s = S + x·sin(Skew),   depth = z.
//
// A scan from the other side of a weld has the skew π.
type Pose struct {
	X, S float64 // of the origin of the frame in m, finite
	Skew float64 // angle from the part's x to the frame's x, about the depth, in rad, finite
}

// Source is a stack in the part.
type Source struct {
	Stack *Stack
	// Pose returns the pose of a frame from its position. Nil stands for X = 0, S = the position of
	// the encoder and no skew.
	Pose func(Frame) Pose
	// Views are the numbers of the views to show; nil stands for all.
	Views []int
	// References replace the references of the layout, one for each view of the stack. Nil keeps
	// them. A pixel whose map holds 0 or NaN does not take part.
	References []tfm.Reference
}

// Place is where the level of a cell comes from.
type Place struct {
	Stack, View, Frame int32 // number of the source, of its view, and index of the frame; -1 for none
	Pixel              int32 // index in the grid of the stack
}
