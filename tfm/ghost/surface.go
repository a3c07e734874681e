// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Wall is a surface of the part that may echo.
type Wall struct {
	Name    string // "entry surface", "back wall" or "side" and its number from 1
	Surface wedge.Surface
}

// Walls returns the surfaces of the part of a valid set-up.
func Walls(s *wedge.Setup) []Wall {
	walls := []Wall{{"entry surface", s.Entry}}
	if s.Back != nil {
		walls = append(walls, Wall{"back wall", s.Back})
	}
	for i, side := range s.Sides {
		walls = append(walls, Wall{fmt.Sprintf("side %d", i+1), side})
	}
	return walls
}

// WallAt returns the name of the wall that an indication images in a view, in its true place, or an
// empty name. In contrast to [Echoes.Explain] it needs no capture. It wants two conditions:
//
//   - The indication lies along the wall. Its peak is within half the length of a pulse from the
//     wall, and its 6 dB contour within the length of a pulse. The contour is not deeper than the
//     echo of a wall: a deeper one holds the echo of a flaw too.
//   - The wall mirrors the rays of the view between two elements at the point nearest to the peak.
//
// A flaw on the wall that is lower than the length of a pulse looks like the wall. The points are
// in m. The slack is the step of the image in m, finite and at least 0, which is allowed on each
// distance. The error names the argument that is out of range, or is the error of ctx if ctx ends
// early.
func WallAt(ctx context.Context, s *wedge.Setup, a fmc.Array, v wedge.View, peak r3.Vec, contour []r3.Vec,
	slack float64) (string, error) {
	if err := checkWallAt(s, a, v, peak, contour, slack); err != nil {
		return "", err
	}
	length := pulseLength(s, a, v)
	for _, w := range Walls(s) {
		if !along(w.Surface, length, peak, contour, slack) {
			continue
		}
		mirrored, err := mirrors(ctx, s, a, w.Surface, v, peak)
		if err != nil {
			return "", err
		}
		if mirrored {
			return w.Name, nil
		}
	}
	return "", nil
}

// checkWallAt reports the first argument of WallAt that is out of range.
func checkWallAt(s *wedge.Setup, a fmc.Array, v wedge.View, peak r3.Vec, contour []r3.Vec, slack float64) error {
	if err := checkGeometry(s, a); err != nil {
		return err
	}
	if _, _, err := s.Paths(v); err != nil {
		return fmt.Errorf("ghost: %w", err)
	}
	if !number.Finite(peak.X + peak.Y + peak.Z) {
		return fmt.Errorf("ghost: peak at %v m: want finite coordinates", peak)
	}
	for i, p := range contour {
		if !number.Finite(p.X + p.Y + p.Z) {
			return fmt.Errorf("ghost: point %d of the contour at %v m: want finite coordinates", i, p)
		}
	}
	if !(slack >= 0) || !number.Finite(slack) {
		return fmt.Errorf("ghost: slack %v m: want a finite value of at least 0", slack)
	}
	return nil
}

// deepestEcho is the greatest depth of the echo of a wall, in lengths of a pulse. The echoes of the
// walls of testdata are 1.11 lengths deep at most. The wall and a flat slit, 0.6 of a length above
// it, made one echo of 1.42 lengths (synthesised).
const deepestEcho = 1.2

// along reports whether an indication lies along a wall.
func along(wall wedge.Surface, length float64, peak r3.Vec, contour []r3.Vec, slack float64) bool {
	if !(math.Abs(wall.Depth(peak)) <= length/2+slack) {
		return false
	}
	least, most := math.Inf(1), math.Inf(-1)
	for _, p := range contour {
		depth := wall.Depth(p)
		if !(math.Abs(depth) <= length+slack) {
			return false
		}
		least, most = min(least, depth), max(most, depth)
	}
	return most-least <= deepestEcho*length+slack
}

// pulseLength returns the length of a pulse in the images of a view, in m: the depth over which the
// envelope exceeds half of its peak.
func pulseLength(s *wedge.Setup, a fmc.Array, v wedge.View) float64 {
	out, back := v.Transmit[len(v.Transmit)-1], v.Receive[0]
	return 2 * halfDuration(a) / (1/s.Part.Speed(out) + 1/s.Part.Speed(back))
}

// mirrors reports whether a wall mirrors the rays of a view between any two elements, at the point
// of the wall nearest p. By Fermat's principle, a wall mirrors a ray where the time from element to
// element is stationary along the wall. At this point the slope of the transmit time and the slope
// of the receive time add up to zero.
func mirrors(ctx context.Context, s *wedge.Setup, a fmc.Array, wall wedge.Surface, v wedge.View, p r3.Vec) (bool, error) {
	least, most := 0.0, 0.0
	for _, modes := range [][]material.Mode{v.Transmit, reversed(v.Receive)} {
		low, high, err := slopes(ctx, s, a, wall, modes, p)
		if err != nil {
			return false, err
		}
		least, most = least+low, most+high
	}
	return least <= 0 && most >= 0, nil
}

// slopes returns the smallest and the largest slope, in s/m, of the times from the elements along a
// wall near p. If no ray reaches p, it returns +Inf and -Inf.
func slopes(ctx context.Context, s *wedge.Setup, a fmc.Array, wall wedge.Surface, modes []material.Mode, p r3.Vec) (
	least, most float64, err error) {
	if n := len(modes); n > 1 {
		start := s.Entry // of the last leg
		if n%2 == 0 {
			start = s.Back
		}
		if wall == start {
			modes = modes[:n-1] // the last leg has no length
		}
	}
	path, err := s.Path(modes)
	if err != nil {
		return 0, 0, err
	}
	const distance = 0.1e-3
	u, t := wall.Locate(p)
	points := []r3.Vec{wall.At(u-distance, t).P, wall.At(u+distance, t).P}
	times, err := path.Times(ctx, a.Elements, points, nil)
	if err != nil {
		return 0, 0, err
	}
	apart := r3.Norm(r3.Sub(points[1], points[0]))
	least, most = math.Inf(1), math.Inf(-1)
	for e := range a.Elements {
		slope := float64(times.Seconds[2*e+1]-times.Seconds[2*e]) / apart
		if !math.IsNaN(slope) {
			least, most = min(least, slope), max(most, slope)
		}
	}
	return least, most, nil
}
