// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"image"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm/stack"
)

// sheet returns levels of 6 by 2 cells, without a frame in column 2 and without a level in cell 9.
func sheet() *stack.Map {
	nan := float32(math.NaN())
	return &stack.Map{
		Across: stack.Axis{First: 10e-3, Step: 1e-3, Cells: 6}, Down: stack.Axis{First: 2e-3, Step: 0.5e-3, Cells: 2},
		AcrossLabel: "s", DownLabel: "depth z",
		Levels:  []float32{-3, -50, nan, 1, -20, -10, -30, -31, nan, nan, -6, -7},
		Missing: []bool{false, false, true, false, false, false},
	}
}

// TestLevelMap checks the cells: no frame and no data are two reasons, and the edges lie half a
// cell beyond the centres.
func TestLevelMap(t *testing.T) {
	m := check.Must(LevelMap(sheet(), -30))
	check.Within(t, "left edge", m.From.X, 9.5e-3, 1e-12)
	check.Within(t, "upper edge", m.From.Y, 1.75e-3, 1e-12)
	check.Within(t, "right edge", m.To.X, 15.5e-3, 1e-12)
	check.Within(t, "lower edge", m.To.Y, 2.75e-3, 1e-12)
	for i, want := range sheet().Levels {
		if v := m.Values[i]; v != float64(want) && !(math.IsNaN(v) && want != want) {
			t.Errorf("cell %d: %v, want %v", i, v, want)
		}
		if got, frame := m.Reasons[m.Reason[i]], i%6 != 2; frame != (got == "no data") {
			t.Errorf("cell %d: %q, a frame %v", i, got, frame)
		}
	}
	if m.Low != -30 || m.High != 0 || m.Across != "s / mm" || m.Down != "depth z / mm" {
		t.Errorf("from %v to %v dB over %q and %q", m.Low, m.High, m.Across, m.Down)
	}
	picture := drawn(t, m)
	for i, reason := range m.Reasons {
		c := reasonColours[i]
		if extent(picture, func(r, g, b uint8) bool { return r == c.R && g == c.G && b == c.B }).Dx() < 50 {
			t.Errorf("%s is not in the picture", reason)
		}
	}
}

// TestLevelMapBlocks: a long scan is shown in blocks. A block shows its highest level, and "no
// frame" only if none of its columns has a frame.
func TestLevelMapBlocks(t *testing.T) {
	long := &stack.Map{Across: stack.Axis{Step: 1e-3, Cells: 4001}, Down: stack.Axis{Step: 1e-3, Cells: 1}}
	for i := range long.Across.Cells {
		level, missing := float32(-20-i%3), i < 4
		if missing || i == 7 {
			level = float32(math.NaN())
		}
		long.Levels, long.Missing = append(long.Levels, level), append(long.Missing, missing)
	}
	m := check.Must(LevelMap(long, -30))
	if m.Columns != 1334 || m.Rows != 1 {
		t.Fatalf("%d by %d blocks, want 1334 by 1", m.Columns, m.Rows)
	}
	check.Within(t, "right edge", m.To.X, 4002e-3-0.5e-3, 1e-9)
	if !math.IsNaN(m.Values[0]) || m.Reason[0] != noFrame {
		t.Errorf("block 0: %v, reason %d, want no frame", m.Values[0], m.Reason[0])
	}
	for i := 1; i < 1333; i++ {
		if want := -20.; m.Values[i] != want && i != 1 {
			t.Errorf("block %d: %v, want %v", i, m.Values[i], want)
		}
	}
	if m.Values[1] != -21 || m.Reason[1] != noData {
		t.Errorf("block 1: %v, reason %d, want -21 and no data", m.Values[1], m.Reason[1])
	}
}

// TestLevelMapGaps: a lost frame of a long scan is seen, although its column is a fraction of a
// pixel and shares its block with columns that frames show. Without a gap there is no mark.
func TestLevelMapGaps(t *testing.T) {
	long := &stack.Map{Across: stack.Axis{First: 1, Step: 1e-3, Cells: 5000}, Down: stack.Axis{Step: 1e-3, Cells: 30}}
	long.Levels, long.Missing = slices.Repeat([]float32{-20}, 5000*30), make([]bool, 5000)
	for _, test := range []struct {
		name string
		lost []int // columns
		want [][2]float64
	}{
		{"none", nil, nil},
		{"one", []int{2500}, [][2]float64{{3.4995, 3.5005}}},
		{"the first, three and the last", []int{0, 100, 101, 102, 4999}, [][2]float64{{0.9995, 1.0005}, {1.0995, 1.1025}, {5.9985, 5.9995}}},
	} {
		clear(long.Missing)
		for _, c := range test.lost {
			long.Missing[c] = true
			for row := range 30 {
				long.Levels[row*5000+c] = float32(math.NaN())
			}
		}
		m := check.Must(LevelMap(long, -30))
		if diff := cmp.Diff(test.want, m.Gaps, cmpopts.EquateApprox(0, 1e-9)); diff != "" {
			t.Errorf("%s: gaps differ, -want +got:\n%s", test.name, diff)
		}
		picture := drawn(t, m)
		area := extent(picture, func(r, g, b uint8) bool { return r > 60 && g < 60 && b < 60 })
		above := image.Rect(area.Min.X, 0, area.Max.X, area.Min.Y)
		marks, inside := 0, false
		for x := above.Min.X - 5; x < above.Max.X+5; x++ {
			r, g, b, _ := picture.At(x, above.Max.Y-6).RGBA()
			dark := r < 0x6000 && g < 0x7000 && b > r
			if dark && !inside {
				marks++
			}
			inside = dark
		}
		if marks != len(test.want) {
			t.Errorf("%s: %d marks above the map, want %d", test.name, marks, len(test.want))
		}
	}
	m := check.Must(LevelMap(long, -30))
	m.Gaps = [][2]float64{{1, 2}, {2, math.NaN()}}
	check.Error(t, m.WritePNG(io.Discard), "Gaps[1]", "NaN")
}

// TestStretch: a long scan is not flatter than the smallest picture, and the caption states the
// scale. A map that is not stretched keeps its scale.
func TestStretch(t *testing.T) {
	m := check.Must(LevelMap(sheet(), -30))
	m.To = r2.Vec{X: m.From.X + 0.5, Y: m.From.Y + 0.01}
	f := check.Must(m.figure(wholeRoom))
	if f.height < flattest || !strings.Contains(f.caption, "vertical scale is 1") {
		t.Errorf("height %v, caption %q", f.height, f.caption)
	}
	m.To.Y = m.From.Y + 0.3
	if f := check.Must(m.figure(wholeRoom)); f.caption != "" {
		t.Errorf("caption %q of a map that needs no stretch", f.caption)
	}
}

// TestLevelMapErrors names what is out of range.
func TestLevelMapErrors(t *testing.T) {
	for _, test := range []struct {
		floor float64
		edit  func(m *stack.Map)
		words []string
	}{
		{0, func(*stack.Map) {}, []string{"floor 0 dB"}},
		{math.NaN(), func(*stack.Map) {}, []string{"floor NaN dB"}},
		{-30, func(m *stack.Map) { m.Levels = m.Levels[1:] }, []string{"11 levels"}},
		{-30, func(m *stack.Map) { m.Missing = m.Missing[1:] }, []string{"5 missing columns"}},
		{-30, func(m *stack.Map) { m.Across.Cells = 0 }, []string{"0 columns"}},
	} {
		m := sheet()
		test.edit(m)
		_, err := LevelMap(m, test.floor)
		check.Error(t, err, test.words...)
	}
	_, err := LevelMap(nil, -30)
	check.Error(t, err, "nil")
}
