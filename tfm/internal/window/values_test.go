// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"runtime"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// strip returns blocks that stand beside each other, in an image with rows of cols pixels: whole
// ones from pixel first on, and then one of which the image has only some rows and columns.
func strip(first, whole, rows, cols int) (blocks []Block) {
	for b := range whole {
		blocks = append(blocks, Block{First: first + b*Cols, Rows: Rows, Cols: Cols})
	}
	return append(blocks, Block{First: first + whole*Cols, Rows: uint8(rows), Cols: uint8(cols)})
}

// TestWriteValues writes numbered values between unreadable pages. Each pixel must get the value
// of its place in its block.
func TestWriteValues(t *testing.T) {
	const none = -1
	for _, side := range guard.Sides {
		m := guard.New(t, side)
		for whole := range 6 {
			for rows := 1; rows <= Rows; rows++ {
				for cols := 1; cols <= Cols; cols++ {
					width := whole*Cols + cols
					blocks := strip(0, whole, rows, cols)
					if rows < Rows && whole > 0 {
						blocks = blocks[:whole] // the image ends with the whole blocks
						width, cols = whole*Cols, Cols
					}
					height := Rows
					if whole == 0 {
						height = rows
					}
					values := make([]float32, len(blocks)*Pixels)
					for i := range values {
						values[i] = float32(i)
					}
					m.Reset()
					image := guard.Copy(m, "image", slices.Repeat([]float32{none}, width*height))
					in := guard.Copy(m, "values", values)
					l := &Layout{Blocks: blocks}
					if err := m.Run(func() { l.WriteValues(image, width, 0, len(blocks), in) }); err != nil {
						t.Fatalf("%d whole blocks, then %d × %d, guard %s: %v", whole, rows, cols, side, err)
					}
					for i, got := range image {
						r, c := i/width, i%width
						block, in := c/Cols, c%Cols
						if want := float32(block*Pixels + in/4*half + r*4 + in%4); got != want {
							t.Fatalf("%d whole blocks, then %d × %d: row %d, column %d has %v, want %v", whole, rows, cols, r, c, got, want)
						}
					}
				}
			}
		}
	}
}

// TestValuesDispatch checks that assembly writes the values of blocks that stand beside each
// other.
func TestValuesDispatch(t *testing.T) {
	if !guard.Pages {
		t.Skip("this system has no unreadable pages")
	}
	want := "window.Block.writeValues"
	if guard.Assembly && runtime.GOARCH == "amd64" {
		want = "window.writeValues"
	}
	l := &Layout{Blocks: strip(0, 2, Rows, Cols)}
	image := make([]float32, 3*Pixels)
	if got := guard.Toucher(func() { l.WriteValues(image, 3*Cols, 0, 3, guard.Unreadable[float32](t, 3*Pixels)) }); got != want {
		t.Errorf("%q touched the values, want %q", got, want)
	}
}
