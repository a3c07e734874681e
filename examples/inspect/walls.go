// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/wedge"
)

// wall is a surface of the part that may echo.
type wall struct {
	name    string
	surface wedge.Surface
}

// wallsOf returns the walls of a set-up.
func wallsOf(s *wedge.Setup) []wall {
	walls := []wall{{"entry surface", s.Entry}}
	if s.Back != nil {
		walls = append(walls, wall{"back wall", s.Back})
	}
	for i, side := range s.Sides {
		walls = append(walls, wall{fmt.Sprintf("side %d", i+1), side})
	}
	return walls
}

// echo is an indication that is the echo of a wall.
type echo struct {
	wall string
	sizing.Indication
}

// recognise separates the echoes of walls from the other indications of a view. Both results keep
// the order of found.
func (in *inspection) recognise(ctx context.Context, v wedge.View, found []sizing.Indication) (
	echoes []echo, rest []sizing.Indication, err error) {
	for _, f := range found {
		name, err := in.wallAt(ctx, v, f)
		if err != nil {
			return nil, nil, err
		}
		if name == "" {
			rest = append(rest, f)
		} else {
			echoes = append(echoes, echo{name, f})
		}
	}
	return echoes, rest, nil
}

// wallAt returns the name of the wall of which an indication is the echo, or an empty name.
func (in *inspection) wallAt(ctx context.Context, v wedge.View, f sizing.Indication) (
	string, error) {
	at := r3.Vec{X: f.X, Y: in.record.Capture.Array.Elements[0].Y, Z: f.Z}
	for _, w := range wallsOf(in.setup) {
		if !in.along(w, v, f) {
			continue
		}
		mirrors, err := in.mirrors(ctx, w, v, at)
		if err != nil {
			return "", err
		}
		if mirrors {
			return w.name, nil
		}
	}
	return "", nil
}

// deepestEcho is the greatest depth of the echo of a wall, in lengths of a pulse. The echoes of the
// walls of testdata are 1.11 lengths deep at most. The wall and a flat slit, 0.6 of a length above
// it, made one echo of 1.42 lengths (synthesised).
const deepestEcho = 1.2

// along reports whether an indication lies along a wall. Its peak must lie within half the length
// of a pulse from the wall, and its whole contour within the length of a pulse. The contour must
// not be deeper than the echo of a wall: then it holds the echo of a flaw too.
func (in *inspection) along(w wall, v wedge.View, f sizing.Indication) bool {
	slack := in.options.step
	length := in.pulse(v)
	if !(math.Abs(w.surface.Depth(r3.Vec{X: f.X, Z: f.Z})) <= length/2+slack) {
		return false
	}
	least, most := math.Inf(1), math.Inf(-1)
	for _, p := range f.Contour {
		depth := w.surface.Depth(p)
		if !(math.Abs(depth) <= length+slack) {
			return false
		}
		least, most = min(least, depth), max(most, depth)
	}
	return most-least <= deepestEcho*length+slack
}

// pulse returns the length of a pulse in the images of a view, in m: the depth over which the
// envelope exceeds half of its peak. The duration of a Gaussian pulse of the centre frequency f and
// the -6 dB bandwidth b is 4·ln 2/(π·b·f).
func (in *inspection) pulse(v wedge.View) float64 {
	a := in.record.Capture.Array
	duration := 4 * math.Ln2 / (math.Pi * a.Bandwidth * a.CentreFrequency)
	out, back := v.Transmit[len(v.Transmit)-1], v.Receive[0]
	return duration / (1/in.setup.Part.Speed(out) + 1/in.setup.Part.Speed(back))
}

// mirrors reports whether a wall mirrors the rays of a view between any two elements, at the point
// of the wall nearest p. By Fermat's principle, a wall mirrors a ray where the time from element to
// element is stationary along the wall. At this point the slope of the transmit time and the slope
// of the receive time add up to zero.
func (in *inspection) mirrors(ctx context.Context, w wall, v wedge.View, p r3.Vec) (bool, error) {
	back := slices.Clone(v.Receive)
	slices.Reverse(back)
	least, most := 0.0, 0.0
	for _, modes := range [][]material.Mode{v.Transmit, back} {
		low, high, err := in.slopes(ctx, w, modes, p)
		if err != nil {
			return false, err
		}
		least, most = least+low, most+high
	}
	return least <= 0 && most >= 0, nil
}

// slopes returns the smallest and the largest slope, in s/m, of the times from the elements along a
// wall near p. If no ray reaches p, it returns +Inf and -Inf.
func (in *inspection) slopes(ctx context.Context, w wall, modes []material.Mode, p r3.Vec) (
	least, most float64, err error) {
	if n := len(modes); n > 1 {
		start := in.setup.Entry // of the last leg
		if n%2 == 0 {
			start = in.setup.Back
		}
		if w.surface == start {
			modes = modes[:n-1] // the last leg has no length
		}
	}
	path, err := in.setup.Path(modes)
	if err != nil {
		return 0, 0, err
	}
	const distance = 0.1e-3
	u, t := w.surface.Locate(p)
	points := []r3.Vec{w.surface.At(u-distance, t).P, w.surface.At(u+distance, t).P}
	elements := in.record.Capture.Array.Elements
	times, err := path.Times(ctx, elements, points, nil)
	if err != nil {
		return 0, 0, err
	}
	apart := r3.Norm(r3.Sub(points[1], points[0]))
	least, most = math.Inf(1), math.Inf(-1)
	for e := range elements {
		slope := float64(times.Seconds[2*e+1]-times.Seconds[2*e]) / apart
		if !math.IsNaN(slope) {
			least, most = min(least, slope), max(most, slope)
		}
	}
	return least, most, nil
}
