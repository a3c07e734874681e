// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"fmt"
	"math"
)

// Axis is a row of regular steps: step k lies at From + k·Step.
type Axis struct {
	From  float64 `json:"from_m"` // position of step 0 in m, within ±1e6 m
	Step  float64 `json:"step_m"` // distance of two steps in m, above 0 and at most 1e6 m
	Steps int     `json:"steps"`  // number of steps, 1 to 4194304
	// Closed says that the axis is a whole turn round a pipe: the step after the last one is step 0
	// again. [Pipe.Axis] makes such an axis.
	Closed bool `json:"closed"`
}

// maxCells bounds the number of places of a grid, so that a slip in a step does not take all
// memory.
const maxCells = 1 << 22

func (a Axis) validate(name string) error {
	if err := checkLengths(length{"start of the axis " + name, a.From}); err != nil {
		return err
	}
	if !(a.Step > 0 && a.Step <= maxLength) {
		return fmt.Errorf("scan: step of the axis %s %v m: want above 0 and at most %g m", name,
			a.Step, float64(maxLength))
	}
	if a.Steps < 1 || a.Steps > maxCells {
		return fmt.Errorf("scan: %d steps of the axis %s: want 1 to %d", a.Steps, name, maxCells)
	}
	return nil
}

// Position returns the position of step k in m.
func (a Axis) Position(k int) float64 { return a.From + float64(k)*a.Step }

// nearest returns the step nearest to a position in m, and how far the position lies beyond that
// step. On a closed axis the distance is at most half a step. The axis is valid and the position
// finite.
func (a Axis) nearest(position float64) (step int, beyond float64) {
	from := position - a.From
	if a.Closed {
		from = wrap(from, float64(a.Steps)*a.Step)
	}
	k := math.Round(from / a.Step)
	if a.Closed && k >= float64(a.Steps) {
		return 0, from - float64(a.Steps)*a.Step
	}
	k = max(0, min(float64(a.Steps-1), k))
	return int(k), from - k*a.Step
}

// Grid is the plan of a scan: at which places it wants a frame. The zero Across stands for one line
// at any position across.
type Grid struct {
	Along  Axis `json:"along"`
	Across Axis `json:"across,omitzero"` // lines of a raster
}

func (g Grid) validate() error {
	if err := g.Along.validate("along"); err != nil {
		return err
	}
	if g.Across == (Axis{}) {
		return nil
	}
	if err := g.Across.validate("across"); err != nil {
		return err
	}
	if g.Across.Steps > maxCells/g.Along.Steps {
		return fmt.Errorf("scan: %d lines of %d steps: want at most %d places", g.Across.Steps,
			g.Along.Steps, maxCells)
	}
	return nil
}

// Lines returns the number of lines, at least 1.
func (g Grid) Lines() int { return max(1, g.Across.Steps) }

// nearest returns the place nearest to a position and the distances from it.
func (g Grid) nearest(along, across float64) (line, step int, beyondAlong, beyondAcross float64) {
	step, beyondAlong = g.Along.nearest(along)
	if g.Across.Steps > 0 {
		line, beyondAcross = g.Across.nearest(across)
	}
	return line, step, beyondAlong, beyondAcross
}
