// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge"
)

// Part is a part over which an array moves. The part is the same in every section of constant y,
// except for its flaws and its back wall. The position s along the scan is y, or the arc on the
// outside of a pipe.
type Part struct {
	// Scene is what the array sees in every section. Its elements have one y, and a Length above 0.
	// Its Dimension is wedge.Space. Its Reflectors are endless along the scan.
	Scene Scene
	Flaws []Flaw
	// Radius is the outer radius in m of a pipe round which the array moves, finite and above 0.
	// The section is then the section along the axis of the pipe. 0 stands for a straight scan.
	Radius float64
	// Back returns the back wall of the section at s, for a wall that changes slowly along the
	// scan. Nil stands for Scene.Setup.Back. The slope of the wall along the scan does not weaken
	// its echo, see "The beam along the scan".
	Back func(s float64) (wedge.Surface, error)
}

// Flaw is a flaw that the array passes. The types are [Planar], [Drilled], [Pores] and [Pit].
type Flaw interface {
	// Span returns the first and the last position of the flaw along the scan, in m.
	Span() (from, to float64)
	// strips returns the pieces of the flaw.
	strips(p *Part) ([]strip, error)
}

// strip is a piece of a flaw whose section is the same from one position to another.
type strip struct {
	reflectors []Reflector
	from, to   float64 // along the scan, in m; equal for a point
	centre     r3.Vec  // of the section
	size       float64 // largest distance of an echo from the centre, m
	ring       float64 // time for which the strip rings, s
	flaw       int     // index of the flaw
}

// validate reports the first field that is missing or out of range.
func (p *Part) validate() error {
	if p == nil {
		return errors.New("synth: no part, nil: want one")
	}
	if err := p.Scene.validate(); err != nil {
		return err
	}
	if p.Scene.Dimension != wedge.Space {
		return errors.New("synth: part in a section: want wedge.Space")
	}
	if !(p.Scene.Length > 0) {
		return fmt.Errorf("synth: length of the elements %v m: want a value above 0 for a scan", p.Scene.Length)
	}
	elements := p.Scene.Array.Elements
	for i, e := range elements {
		if e.Y != elements[0].Y {
			return fmt.Errorf("synth: y of element %d %v m: want %v m, as for element 0", i, e.Y, elements[0].Y)
		}
	}
	if p.Radius != 0 && !number.Positive(p.Radius) {
		return fmt.Errorf("synth: radius of the pipe %v m: want a finite value above 0, or 0 for none", p.Radius)
	}
	if len(p.Flaws) > 0 && len(p.Scene.Views) == 0 {
		return fmt.Errorf("synth: %d flaws and no views: want at least one view, such as L-L", len(p.Flaws))
	}
	for i, f := range p.Flaws {
		if f == nil {
			return fmt.Errorf("synth: flaw %d: want one, not nil", i)
		}
	}
	return nil
}

// Wall returns the depth of the back wall in m without its pits, at x in the section at s.
func (p *Part) Wall(x, s float64) (float64, error) {
	back, err := p.back(s)
	if err != nil {
		return 0, err
	}
	if back == nil {
		return 0, errors.New("synth: depth of the back wall of a part without one: want a back wall")
	}
	z := 0.0
	for range 100 {
		step := back.Depth(r3.Vec{X: x, Z: z})
		z -= step
		if math.Abs(step) < 1e-12 {
			return z, nil
		}
	}
	return 0, fmt.Errorf("synth: back wall at x = %v m, s = %v m: no depth was found", x, s)
}

// back returns the back wall of the section at s.
func (p *Part) back(s float64) (wedge.Surface, error) {
	if p.Back == nil {
		return p.Scene.Setup.Back, nil
	}
	back, err := p.Back(s)
	if err != nil {
		return nil, fmt.Errorf("synth: back wall at s = %v m: %w", s, err)
	}
	if back == nil {
		return nil, fmt.Errorf("synth: back wall at s = %v m: want one, not nil", s)
	}
	return back, nil
}

// Remaining returns the remaining thickness of the wall at x and s, in m. It is measured from the
// entry surface straight down, to the back wall or to the bottom of the deepest pit there.
func (p *Part) Remaining(x, s float64) (float64, error) {
	left, err := p.Wall(x, s)
	if err != nil {
		return 0, err
	}
	depth := 0.0
	for _, f := range p.Flaws {
		if pit, ok := f.(Pit); ok {
			depth = max(depth, pit.depthAt(x, s))
		}
	}
	return left - depth, nil
}

// wavelength returns the wavelength in m of the slowest wave in the part at the centre frequency.
func (p *Part) wavelength() float64 {
	speed := p.Scene.Setup.Part.Transverse
	if speed == 0 {
		speed = p.Scene.Setup.Part.Longitudinal
	}
	return speed / p.Scene.Array.CentreFrequency
}

// checkSpan returns an error for a flaw that does not begin before it ends.
func checkSpan(name string, from, to float64) error {
	if !number.Finite(from) || !number.Finite(to) || !(to > from) {
		return fmt.Errorf("synth: %s from s = %v to %v m: want finite positions in ascending order", name, from, to)
	}
	return nil
}
