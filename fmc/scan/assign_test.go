// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// at returns frames at positions in mm along a line.
func at(along ...float64) []fmc.Frame {
	frames := make([]fmc.Frame, len(along))
	for i, v := range along {
		frames[i] = fmc.Frame{Index: i, Position: v * 1e-3}
	}
	return frames
}

func TestAssign(t *testing.T) {
	line := Grid{Along: Axis{From: 10e-3, Step: 1e-3, Steps: 5}}
	turn := Grid{Along: Axis{Step: 1e-3, Steps: 4, Closed: true}}
	raster := Grid{Along: line.Along, Across: Axis{Step: 2e-3, Steps: 3}}
	meander := at(10, 11, 12, 13, 14, 14.1, 13, 12.2, 11)
	for i := 5; i < 9; i++ {
		meander[i].Across = 2.1e-3
	}
	tests := []struct {
		name    string
		frames  []fmc.Frame
		grid    Grid
		options *AssignOptions
		kept    []int // last frame of each place, -1 for none
		want    Assignment
	}{
		{"complete", at(10, 11, 12, 13, 14), line, nil, []int{0, 1, 2, 3, 4}, Assignment{}},
		{"backward", at(14, 13, 12, 11, 10), line, nil, []int{4, 3, 2, 1, 0}, Assignment{}},
		{"gaps", at(11, 12), line, nil, []int{-1, 0, 1, -1, -1},
			Assignment{Gaps: []Gap{{0, 0, 0}, {0, 3, 4}}}},
		{"no frames", nil, line, nil, []int{-1, -1, -1, -1, -1}, Assignment{Gaps: []Gap{{0, 0, 4}}}},
		{"last of several", at(10, 11, 10.9, 12, 13, 14, 11.1), line, nil, []int{0, 6, 3, 4, 5},
			Assignment{Repeated: []Repeat{{0, 1, []int{1, 2, 6}}}}},
		{"first of several", at(10, 11, 10.9, 12, 13, 14, 11.1), line,
			&AssignOptions{Keep: KeepFirst}, []int{0, 1, 3, 4, 5},
			Assignment{Repeated: []Repeat{{0, 1, []int{1, 2, 6}}}}},
		{"nearest of several", at(10, 10.9, 11, 11.0, 12, 13, 14, 11.1), line,
			&AssignOptions{Keep: KeepNearest}, []int{0, 3, 4, 5, 6},
			Assignment{Repeated: []Repeat{{0, 1, []int{1, 2, 3, 7}}}}},
		{"out of tolerance", at(10, 11.3, 12, 13, 14), line, &AssignOptions{Along: 0.2e-3},
			[]int{0, -1, 2, 3, 4}, Assignment{Gaps: []Gap{{0, 1, 1}}, Stray: []int{1}}},
		{"beyond the ends", at(9.4, 10, 11, 12, 13, 14, 14.6), line, nil, []int{1, 2, 3, 4, 5},
			Assignment{Stray: []int{0, 6}}},
		{"half-way counts at both ends", at(9.5, 11, 12, 13, 14.5), line, nil, []int{0, 1, 2, 3, 4},
			Assignment{}},
		{"over the seam", at(0, 1, 2, 3, 4, 4.9), turn, nil, []int{4, 5, 2, 3},
			Assignment{Repeated: []Repeat{{0, 0, []int{0, 4}}, {0, 1, []int{1, 5}}}}},
		{"before the seam", at(-0.4, 1, -2, -1), turn, nil, []int{0, 1, 2, 3}, Assignment{}},
		{"unfinished raster, back and forth", meander, raster, nil,
			[]int{0, 1, 2, 3, 4, -1, 8, 7, 6, 5, -1, -1, -1, -1, -1},
			Assignment{Gaps: []Gap{{1, 0, 0}, {2, 0, 4}}}},
		{"lines of a raster out of tolerance", meander, raster, &AssignOptions{Across: 0.05e-3},
			[]int{0, 1, 2, 3, 4, -1, -1, -1, -1, -1, -1, -1, -1, -1, -1},
			Assignment{Gaps: []Gap{{1, 0, 4}, {2, 0, 4}}, Stray: []int{5, 6, 7, 8}}},
		{"one line counts at any position across", meander[5:], line, nil, []int{-1, 3, 2, 1, 0},
			Assignment{Gaps: []Gap{{0, 0, 0}}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			a, err := Assign(test.frames, test.grid, test.options)
			if err != nil {
				t.Fatal(err)
			}
			var kept []int
			for l := range a.Grid.Lines() {
				for s := range a.Grid.Along.Steps {
					frame, ok := a.Frame(l, s)
					if !ok {
						frame = -1
					}
					kept = append(kept, frame)
				}
			}
			if diff := cmp.Diff(test.kept, kept); diff != "" {
				t.Errorf("kept (-want +got):\n%s", diff)
			}
			got := Assignment{Gaps: a.Gaps, Repeated: a.Repeated, Stray: a.Stray}
			if diff := cmp.Diff(test.want, got, cmp.AllowUnexported(Assignment{})); diff != "" {
				t.Errorf("assignment (-want +got):\n%s", diff)
			}
			if frames := a.Frames(a.Grid.Lines(), 0); frames != nil {
				t.Errorf("frames %v outside the grid", frames)
			}
		})
	}
}

// TestAssignAnyOrder: the order of the frames changes nothing but their numbers.
func TestAssignAnyOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	grid := Grid{Along: Axis{Step: 1e-3, Steps: 40}, Across: Axis{Step: 3e-3, Steps: 4}}
	options := &AssignOptions{Along: 0.3e-3, Keep: KeepAll}
	for range 20 {
		frames := make([]fmc.Frame, 200)
		for i := range frames {
			frames[i] = fmc.Frame{Position: 42e-3*rng.Float64() - 1e-3, Across: 12e-3*rng.Float64() - 1e-3}
		}
		order := rng.Perm(len(frames))
		shuffled := make([]fmc.Frame, len(frames))
		for i, o := range order {
			shuffled[i] = frames[o]
		}
		a, b := check.Must(Assign(frames, grid, options)), check.Must(Assign(shuffled, grid, options))
		if diff := cmp.Diff(a.Gaps, b.Gaps); diff != "" {
			t.Fatalf("gaps (-in order +shuffled):\n%s", diff)
		}
		for l := range grid.Lines() {
			for s := range grid.Along.Steps {
				var back []int
				for _, f := range b.Frames(l, s) {
					back = append(back, order[f])
				}
				slices.Sort(back)
				if diff := cmp.Diff(a.Frames(l, s), back); diff != "" {
					t.Fatalf("line %d, step %d (-in order +shuffled):\n%s", l, s, diff)
				}
			}
		}
	}
}

func TestAssignRefuses(t *testing.T) {
	good := Grid{Along: Axis{Step: 1e-3, Steps: 5}, Across: Axis{Step: 1e-3, Steps: 2}}
	nan := math.NaN()
	tests := []struct {
		name    string
		frame   fmc.Frame
		change  func(*Grid)
		options *AssignOptions
		want    string
	}{
		{"position", fmc.Frame{Position: nan}, nil, nil, "position along NaN m"},
		{"position across", fmc.Frame{Across: math.Inf(1)}, nil, nil, "position across +Inf m"},
		{"no grid", fmc.Frame{}, func(g *Grid) { *g = Grid{} }, nil, "step of the axis along 0 m"},
		{"start", fmc.Frame{}, func(g *Grid) { g.Along.From = nan }, nil, "start of the axis along NaN"},
		{"step", fmc.Frame{}, func(g *Grid) { g.Along.Step = -1 }, nil, "step of the axis along -1 m"},
		{"steps", fmc.Frame{}, func(g *Grid) { g.Along.Steps = 0 }, nil, "0 steps of the axis along"},
		{"lines", fmc.Frame{}, func(g *Grid) { g.Across.Steps = 0 }, nil, "0 steps of the axis across"},
		{"places", fmc.Frame{}, func(g *Grid) { g.Along.Steps, g.Across.Steps = 4096, 1025 }, nil,
			"1025 lines of 4096 steps"},
		{"tolerance", fmc.Frame{}, nil, &AssignOptions{Along: nan}, "tolerances NaN m"},
		{"tolerance across", fmc.Frame{}, nil, &AssignOptions{Across: -1}, "-1 m across"},
		{"rule", fmc.Frame{}, nil, &AssignOptions{Keep: 9}, "rule 9"},
	}
	for _, test := range tests {
		grid := good
		if test.change != nil {
			test.change(&grid)
		}
		_, err := Assign([]fmc.Frame{test.frame}, grid, test.options)
		check.Error(t, err, test.want)
	}
}

// FuzzAssign: each frame is kept, dropped by the rule, or stray; each place has a frame or lies in a
// gap; a kept frame lies within the tolerance.
func FuzzAssign(f *testing.F) {
	f.Add(0.01, 0.001, int16(5), int16(2), true, 0.0, uint8(1), []byte{1, 2, 3, 4, 5, 6, 7, 8})
	f.Add(-1.0, 1e-6, int16(1), int16(0), false, 1e-3, uint8(3), []byte{})
	f.Fuzz(func(t *testing.T, from, step float64, steps, lines int16, closed bool, tolerance float64,
		keep uint8, data []byte) {
		var frames []fmc.Frame
		for ; len(data) >= 8; data = data[8:] {
			v := math.Float64frombits(binary.LittleEndian.Uint64(data))
			frames = append(frames, fmc.Frame{Position: v, Across: v / 3})
		}
		grid := Grid{Along: Axis{from, step, int(steps), closed}}
		if lines != 0 {
			grid.Across = Axis{Step: step, Steps: int(lines)}
		}
		a, err := Assign(frames, grid, &AssignOptions{Along: tolerance, Keep: Keep(keep)})
		if err != nil {
			return
		}
		empty, kept, dropped := 0, 0, 0
		for l := range grid.Lines() {
			for s := range grid.Along.Steps {
				n := len(a.Frames(l, s))
				kept += n
				if n == 0 {
					empty++
				}
			}
		}
		for _, g := range a.Gaps {
			empty -= g.Last - g.First + 1
		}
		for _, r := range a.Repeated {
			dropped += len(r.Frames) - len(a.Frames(r.Line, r.Step))
		}
		if empty != 0 || kept+dropped+len(a.Stray) != len(frames) {
			t.Errorf("%d places neither kept nor in a gap; %d kept, %d dropped, %d stray of %d frames",
				empty, kept, dropped, len(a.Stray), len(frames))
		}
	})
}
