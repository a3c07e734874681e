// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
)

// Keep tells which frames count if several frames lie at one place.
type Keep uint8

const (
	// KeepLast keeps the frame that was taken last: an operator goes back to repair a place.
	KeepLast Keep = iota
	// KeepFirst keeps the frame that was taken first.
	KeepFirst
	// KeepNearest keeps the frame nearest to the step, and of equally near ones the last.
	KeepNearest
	// KeepAll keeps all frames.
	KeepAll
)

// AssignOptions modifies [Assign]. Nil stands for the zero value.
type AssignOptions struct {
	// Along and Across are the greatest distances of a frame from its place in m, above 0. Zero
	// stands for half a step, so that the tolerances of two neighbours meet. A distance beyond half
	// a step has the effect of half a step, except at the ends of an axis that is not closed.
	Along, Across float64
	// Keep is the rule for several frames at one place, by default KeepLast.
	Keep Keep
}

// Assignment tells which frames lie at the places of a grid.
type Assignment struct {
	Grid     Grid
	Gaps     []Gap    // places without a frame: by line, then by step
	Repeated []Repeat // places with several frames: by line, then by step
	Stray    []int    // frames beyond the tolerance or the ends, as elements of the list, ascending

	first  []int32 // by place: start of its frames in frames
	frames []int32
}

// Gap is a run of steps of one line without a frame.
type Gap struct{ Line, First, Last int }

// Repeat is a place with several frames.
type Repeat struct {
	Line, Step int
	Frames     []int // elements of the list, ascending; also the frames that the rule drops
}

// Frames returns the frames that are kept at a place, as elements of the list, ascending. It
// returns none for a place without a frame and for a place outside the grid.
func (a *Assignment) Frames(line, step int) []int {
	var kept []int
	for _, f := range a.at(line, step) {
		kept = append(kept, int(f))
	}
	return kept
}

// Frame returns the last of the frames that are kept at a place, as an element of the list. It
// returns false if there is none.
func (a *Assignment) Frame(line, step int) (frame int, ok bool) {
	kept := a.at(line, step)
	if len(kept) == 0 {
		return 0, false
	}
	return int(kept[len(kept)-1]), true
}

func (a *Assignment) at(line, step int) []int32 {
	if line < 0 || line >= a.Grid.Lines() || step < 0 || step >= a.Grid.Along.Steps {
		return nil
	}
	place := line*a.Grid.Along.Steps + step
	return a.frames[a.first[place]:a.first[place+1]]
}

// Assign assigns frames to the places of a grid by their positions. The frames are in the order in
// which they were taken, and their positions in any order. Their captures are not used.
//
// A frame belongs to the nearest place if it lies within the tolerance of it. A frame of no place,
// and a place of no frame, are listed and are no error.
func Assign(frames []fmc.Frame, grid Grid, options *AssignOptions) (*Assignment, error) {
	if err := grid.validate(); err != nil {
		return nil, err
	}
	var o AssignOptions
	if options != nil {
		o = *options
	}
	if err := o.complete(grid); err != nil {
		return nil, err
	}
	if len(frames) > math.MaxInt32 {
		return nil, fmt.Errorf("scan: %d frames: want at most %d", len(frames), math.MaxInt32)
	}
	a := &Assignment{Grid: grid}
	places := make([]int, len(frames)) // of each frame, -1 for none
	beyond := make([]float64, len(frames))
	for i, f := range frames {
		err := checkLengths(length{"position along", f.Position}, length{"position across", f.Across})
		if err != nil {
			return nil, fmt.Errorf("%w, in element %d of the frames", err, i)
		}
		line, step, along, across := grid.nearest(f.Position, f.Across)
		places[i], beyond[i] = line*grid.Along.Steps+step, math.Abs(along)
		if beyond[i] > o.Along || math.Abs(across) > o.Across {
			places[i] = -1
			a.Stray = append(a.Stray, i)
		}
	}
	a.sort(places)
	a.judge()
	a.keep(o.Keep, beyond)
	return a, nil
}

// complete checks the options and puts in the defaults.
func (o *AssignOptions) complete(g Grid) error {
	if !(o.Along >= 0 && o.Along <= maxLength) || !(o.Across >= 0 && o.Across <= maxLength) {
		return fmt.Errorf("scan: tolerances %v m along and %v m across: want above 0 and at most %g m, "+
			"or 0 for half a step", o.Along, o.Across, float64(maxLength))
	}
	if o.Keep > KeepAll {
		return fmt.Errorf("scan: rule %d for several frames at a place: want KeepLast to KeepAll", o.Keep)
	}
	o.defaults(g)
	return nil
}

// defaults puts in the defaults. They exceed half a step by a little, because the position of a
// frame half-way between two places is rounded.
func (o *AssignOptions) defaults(g Grid) {
	const half = 0.5 + 1e-6
	if o.Along == 0 {
		o.Along = half * g.Along.Step
	}
	if o.Across == 0 {
		o.Across = half * g.Across.Step
	}
}

// sort fills first and frames, in the order of the frames at each place.
func (a *Assignment) sort(places []int) {
	a.first = make([]int32, a.Grid.Lines()*a.Grid.Along.Steps+1)
	for _, p := range places {
		if p >= 0 {
			a.first[p+1]++
		}
	}
	for p := range a.first[1:] {
		a.first[p+1] += a.first[p]
	}
	a.frames = make([]int32, a.first[len(a.first)-1])
	next := slices.Clone(a.first)
	for i, p := range places {
		if p >= 0 {
			a.frames[next[p]] = int32(i)
			next[p]++
		}
	}
}

// judge lists the gaps and the repeated places.
func (a *Assignment) judge() {
	for line := range a.Grid.Lines() {
		gap := false
		for step := range a.Grid.Along.Steps {
			n := len(a.at(line, step))
			if n > 1 {
				a.Repeated = append(a.Repeated, Repeat{line, step, a.Frames(line, step)})
			}
			switch {
			case n == 0 && gap:
				a.Gaps[len(a.Gaps)-1].Last = step
			case n == 0:
				a.Gaps = append(a.Gaps, Gap{line, step, step})
			}
			gap = n == 0
		}
	}
}

// keep drops the frames that the rule does not keep. beyond is the distance of each frame from its
// place.
func (a *Assignment) keep(rule Keep, beyond []float64) {
	kept := int32(0)
	for p := range a.first[1:] {
		at := a.frames[a.first[p]:a.first[p+1]]
		a.first[p] = kept
		kept += int32(copy(a.frames[kept:], rule.of(at, beyond)))
	}
	a.first[len(a.first)-1] = kept
	a.frames = a.frames[:kept]
}

// of returns the frames that the rule keeps.
func (k Keep) of(frames []int32, beyond []float64) []int32 {
	if len(frames) < 2 || k == KeepAll {
		return frames
	}
	i := len(frames) - 1
	switch k {
	case KeepFirst:
		i = 0
	case KeepNearest:
		for j := i; j >= 0; j-- {
			if beyond[frames[j]] < beyond[frames[i]] {
				i = j
			}
		}
	}
	return frames[i : i+1]
}
