// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package look

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// point is a point of the section, x and z in m.
type point struct{ x, z float64 }

// elements returns the elements of a capture of testdata.
func elements(t *testing.T, capture string) (all []point) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(root, "testdata", capture+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var setup struct {
		Array struct {
			Centres [][2]float64 `json:"element_centres_m"`
		} `json:"array"`
	}
	if err := json.Unmarshal(text, &setup); err != nil {
		t.Fatal(err)
	}
	for _, c := range setup.Array.Centres {
		all = append(all, point{c[0], c[1]})
	}
	return all
}

// flight returns the time from a in a wedge of the speed c0, through the plane z = 0, to b in a
// part of the speed c1: the least time, by Fermat's principle. The search does not use the
// library.
func flight(a, b point, c0, c1 float64) float64 {
	low, high := min(a.x, b.x), max(a.x, b.x)
	for range 60 {
		x := (low + high) / 2
		// The derivative of the time: Snell's law makes it 0.
		if (x-a.x)/math.Hypot(x-a.x, a.z)/c0 > (b.x-x)/math.Hypot(b.x-x, b.z)/c1 {
			high = x
		} else {
			low = x
		}
	}
	x := (low + high) / 2
	return math.Hypot(x-a.x, a.z)/c0 + math.Hypot(b.x-x, b.z)/c1
}

// moved returns where the echo of a small reflector at p is imaged with a wrong set-up: with the
// elements taken at other places, and with the speed c2 instead of c1. There the times from all
// elements agree best with the times of the echo, in least squares.
func moved(elements, taken []point, p point, c0, c1, c2 float64) point {
	const h = 1e-7 // m
	q := p
	for range 30 { // Gauss and Newton
		var xx, xz, zz, x, z float64
		for i, e := range taken {
			late := flight(elements[i], p, c0, c1) - flight(e, q, c0, c2)
			dx := (flight(e, point{q.x + h, q.z}, c0, c2) - flight(e, point{q.x - h, q.z}, c0, c2)) / (2 * h)
			dz := (flight(e, point{q.x, q.z + h}, c0, c2) - flight(e, point{q.x, q.z - h}, c0, c2)) / (2 * h)
			xx, xz, zz = xx+dx*dx, xz+dx*dz, zz+dz*dz
			x, z = x+dx*late, z+dz*late
		}
		d := xx*zz - xz*xz
		q.x += (zz*x - xz*z) / d
		q.z += (xx*z - xz*x) / d
	}
	return q
}

// Along a single ray straight down, the depth is proportional to the speed of the part.
func TestMovedStraightDown(t *testing.T) {
	line := []point{{-2e-3, -1e-9}, {-1e-3, -1e-9}, {0, -1e-9}, {1e-3, -1e-9}, {2e-3, -1e-9}}
	q := moved(line, line, point{0, 50e-3}, 2340, 3000, 3030)
	// Far from a small array in contact the echo keeps its time: 50 mm · 3030/3000.
	if !(math.Abs(q.z-50.5e-3) <= 0.01e-3) || !(math.Abs(q.x) <= 1e-6) {
		t.Errorf("imaged at %.4f, %.4f mm; want 0, 50.5 mm", q.x*1e3, q.z*1e3)
	}
}

// turned returns elements that are turned about their middle, so that an array that fires towards
// +x gets a larger angle, in rad.
func turned(elements []point, angle float64) (all []point) {
	var middle point
	for _, e := range elements {
		middle.x += e.x / float64(len(elements))
		middle.z += e.z / float64(len(elements))
	}
	sin, cos := math.Sincos(angle)
	for _, e := range elements {
		x, z := e.x-middle.x, e.z-middle.z
		all = append(all, point{middle.x + x*cos + z*sin, middle.z - x*sin + z*cos})
	}
	return all
}
