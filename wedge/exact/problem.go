// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package exact

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// Problem is a ray between two points with its time.
type Problem struct {
	Name   string // one of its own
	Source string // how the time is known
	// Legs and Crossings are the arguments of [wedge.NewPath].
	Legs      []wedge.Leg
	Crossings []wedge.Crossing
	From, To  r3.Vec  // m
	Seconds   float64 // the time, s
	// Tolerance is the largest error of a correct solver, as a share of Seconds: the rounding of a
	// printed time, or the rounding of a few operations in float64.
	Tolerance float64
	// Points are the places of the crossings in m, known to 1e-12 m. They are nil if they are not
	// known, or if Everywhere is set.
	Points []r3.Vec
	// Index is the index of the ray as in [wedge.StationaryRay]: 0 if the time is a minimum
	// among the paths beside the ray in the section, 1 if it is a maximum for one crossing.
	// It has no meaning where Everywhere is set.
	Index int
	// Everywhere tells that all paths take the same time. It applies to each place of the surface,
	// in the section of the ends, that a leg reaches without crossing the surface.
	Everywhere bool
}

// Path returns the path of the problem. It panics if the legs or crossings were changed so that
// they no longer form a path.
func (p *Problem) Path() *wedge.Path {
	return must(wedge.NewPath(p.Legs, p.Crossings))
}

// Through returns the time in seconds through the given places, one per crossing. By Fermat's
// principle the time of the ray is stationary.
func (p *Problem) Through(points ...r3.Vec) float64 {
	at, time := p.From, 0.0
	for i, leg := range p.Legs {
		next := p.To
		if i < len(points) {
			next = points[i]
		}
		time += r3.Norm(r3.Sub(next, at)) / leg.Speed
		at = next
	}
	return time
}

// Check returns an error that names the problem unless the time in seconds is right to the
// tolerance.
func (p *Problem) Check(seconds float64) error {
	if off := seconds - p.Seconds; !(math.Abs(off) <= p.Tolerance*p.Seconds) {
		return fmt.Errorf("exact: %s: %v s is off by %.3g s: "+
			"want %v s (%s)", p.Name, seconds, off, p.Seconds, p.Source)
	}
	return nil
}

// must returns v. The error is always nil: the arguments of the constructor are constants.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
