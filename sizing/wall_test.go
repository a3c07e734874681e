// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/wedge"
)

func plate(t *testing.T, thickness float64) sizing.Wall {
	t.Helper()
	near, err := wedge.HorizontalPlane(0)
	if err != nil {
		t.Fatal(err)
	}
	far, err := wedge.HorizontalPlane(thickness)
	if err != nil {
		t.Fatal(err)
	}
	return wall(t, near, far)
}

// pipe returns the wall of a pipe whose top is at the origin.
func pipe(t *testing.T, radius, thickness float64) sizing.Wall {
	t.Helper()
	near, err := wedge.NewCylinder(r3.Vec{Z: radius}, r3.Vec{Y: 1}, radius, wedge.Convex)
	if err != nil {
		t.Fatal(err)
	}
	far, err := wedge.NewCylinder(r3.Vec{Z: radius}, r3.Vec{Y: 1}, radius-thickness, wedge.Convex)
	if err != nil {
		t.Fatal(err)
	}
	return wall(t, near, far)
}

func wall(t *testing.T, near, far wedge.Surface) sizing.Wall {
	t.Helper()
	w, err := sizing.NewWall(near, far)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func TestPlace(t *testing.T) {
	const radius, thickness = 57.15e-3, 14e-3 // a pipe of 114.3 mm
	flat, round := plate(t, 16e-3), pipe(t, radius, thickness)
	polar := func(angle, depth float64) r3.Vec {
		sin, cos := math.Sincos(angle)
		return r3.Vec{X: (radius - depth) * sin, Z: radius - (radius-depth)*cos}
	}
	for _, test := range []struct {
		name                    string
		wall                    sizing.Wall
		p                       r3.Vec
		along, depth, remaining float64
	}{
		{"plate", flat, r3.Vec{X: -3e-3, Z: 6e-3}, -3e-3, 6e-3, 10e-3},
		{"plate, out of the section", flat, r3.Vec{X: -3e-3, Y: 5e-3, Z: 6e-3}, -3e-3, 6e-3, 10e-3},
		{"plate, surface", flat, r3.Vec{X: 2e-3}, 2e-3, 0, 16e-3},
		{"plate, below the back wall", flat, r3.Vec{Z: 16.5e-3}, 0, 16.5e-3, -0.5e-3},
		{"plate, above the surface", flat, r3.Vec{Z: -1e-3}, 0, -1e-3, 17e-3},
		{"pipe, under the top", round, r3.Vec{Z: 5e-3}, 0, 5e-3, 9e-3},
		{"pipe, 0.2 rad round", round, polar(0.2, 3e-3), 0.2 * radius, 3e-3, 11e-3},
		{"pipe, other way", round, polar(-1.5, 8e-3), -1.5 * radius, 8e-3, 6e-3},
		{"pipe, past the side", round, polar(2.5, 14e-3), 2.5 * radius, 14e-3, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			got := test.wall.Place(test.p)
			within(t, "along", got.Along, test.along, 1e-15)
			within(t, "depth", got.Depth, test.depth, 1e-15)
			within(t, "remaining", got.Remaining, test.remaining, 1e-15)
		})
	}
}

// Surfaces need not cope with such points.
func TestPlaceOfNoPoint(t *testing.T) {
	profile, err := wedge.NewProfile([]r3.Vec{{}, {X: 1e-3, Z: 1e-4}, {X: 2e-3}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []r3.Vec{{X: math.NaN()}, {Y: math.Inf(1)}, {Z: math.Inf(-1)}} {
		got := wall(t, profile, profile).Place(p)
		if !math.IsNaN(got.Along) || !math.IsNaN(got.Depth) || !math.IsNaN(got.Remaining) {
			t.Errorf("place of %v: %+v, want NaN", p, got)
		}
	}
	var none sizing.Wall
	if got := none.Place(r3.Vec{X: 1e-3}); !math.IsNaN(got.Along) || !math.IsNaN(got.Depth) || !math.IsNaN(got.Remaining) {
		t.Errorf("place in no wall: %+v, want NaN", got)
	}
	if got := none.Span(sizing.Indication{Contour: []r3.Vec{{X: 1e-3}}}); !math.IsNaN(got.Peak.Depth) || !math.IsNaN(got.FarLigament) {
		t.Errorf("span in no wall: %+v, want NaN", got)
	}
}

// A hill in a picture of a plate and of a pipe: the ligaments are its depth, and what
// the wall leaves below it, less half of its contour's extent across the wall.
func TestSpan(t *testing.T) {
	const step = 0.1e-3
	t.Run("plate", func(t *testing.T) {
		in := one(t, draw(t, 161, 161, step, blob{x: 8e-3, z: 6e-3, length: 4e-3, width: 1e-3, tilt: 0, height: 1}))
		got := plate(t, 10e-3).Span(in)
		within(t, "along", got.Peak.Along, 8e-3, step/100)
		within(t, "depth", got.Peak.Depth, 6e-3, step/100)
		within(t, "near ligament", got.NearLigament, 4e-3, step/5)
		within(t, "far ligament", got.FarLigament, 2e-3, step/5)
		within(t, "start along", got.Along[0], 7.5e-3, step/5)
		within(t, "end along", got.Along[1], 8.5e-3, step/5)
		within(t, "least depth", got.Depth[0], in.ExtentZ[0], 1e-15)
		within(t, "greatest depth", got.Depth[1], in.ExtentZ[1], 1e-15)
	})
	t.Run("pipe", func(t *testing.T) {
		// 0.5 rad round a pipe of radius 20 mm, 4 mm deep in a wall of 7 mm: long
		// round the pipe's axis, narrow across the wall.
		const radius, angle, depth = 20e-3, 0.5, 4e-3
		sin, cos := math.Sincos(angle)
		in := one(t, draw(t, 161, 161, step, blob{
			x: (radius - depth) * sin, z: radius - (radius-depth)*cos, length: 2e-3, width: 1e-3, tilt: angle - math.Pi/2, height: 1,
		}))
		got := pipe(t, radius, 7e-3).Span(in)
		within(t, "along", got.Peak.Along, angle*radius, step/100)
		within(t, "depth", got.Peak.Depth, depth, step/100)
		// The contour is an ellipse of half axes 1 mm, along the surface, and 0.5 mm; it
		// curves more than the surfaces, so it is nearest to them above and below its middle.
		within(t, "near ligament", got.NearLigament, depth-0.5e-3, step/5)
		within(t, "far ligament", got.FarLigament, 3e-3-0.5e-3, step/5)
		// The tangents to the ellipse from the axis of the pipe.
		half := radius * math.Atan(1e-3/math.Sqrt((radius-depth)*(radius-depth)-0.25e-6))
		within(t, "start along", got.Along[0], angle*radius-half, step/5)
		within(t, "end along", got.Along[1], angle*radius+half, step/5)
	})
}

func TestNewWallRefuses(t *testing.T) {
	surface, err := wedge.HorizontalPlane(0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = sizing.NewWall(nil, surface)
	checkError(t, err, "sizing: near surface")
	_, err = sizing.NewWall(surface, nil)
	checkError(t, err, "sizing: far surface")
}
