// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

func TestProfileOfAPlane(t *testing.T) {
	// Bilinear interpolation is exact where the amplitude is a + b·x + c·z + d·x·z.
	g := tfm.Grid{Origin: r3.Vec{X: -2e-3, Z: 1e-3}, Step: r3.Vec{X: 0.5e-3, Y: 1, Z: 0.25e-3}, Cols: 9, Rows: 13, Slices: 1}
	amplitude := func(p r3.Vec) float64 { return 8 + 1e3*p.X + 2e3*p.Z + 3e5*p.X*p.Z }
	env := &tfm.Envelope{Grid: g, Data: make([]float32, g.Len())}
	for i := range env.Data {
		env.Data[i] = float32(amplitude(g.Point(i)))
	}
	for _, line := range []struct {
		name, reason string
		from, to     r3.Vec
		n            int
	}{
		{"row", "along x on a row of pixels", r3.Vec{X: -2e-3, Z: 2e-3}, r3.Vec{X: 2e-3, Z: 2e-3}, 17},
		{"column", "upwards, between columns", r3.Vec{X: 0.3e-3, Z: 4e-3}, r3.Vec{X: 0.3e-3, Z: 1e-3}, 10},
		{"diagonal", "corner to corner of the grid", r3.Vec{X: -2e-3, Z: 1e-3}, r3.Vec{X: 2e-3, Z: 4e-3}, 101},
		{"two", "the fewest there can be; y is not looked at", r3.Vec{X: 1e-3, Y: 5, Z: 3.1e-3}, r3.Vec{X: -1e-3, Y: 7, Z: 1.7e-3}, 2},
	} {
		t.Run(line.name, func(t *testing.T) {
			got, spacing, err := sizing.Profile(env, line.from, line.to, line.n)
			if err != nil {
				t.Fatal(err)
			}
			if len(got) != line.n {
				t.Fatalf("%d amplitudes, want %d", len(got), line.n)
			}
			line.from.Y, line.to.Y = 0, 0
			within(t, "spacing", spacing, r3.Norm(r3.Sub(line.to, line.from))/float64(line.n-1), 1e-15)
			for i, v := range got {
				p := r3.Add(line.from, r3.Scale(float64(i)/float64(line.n-1), r3.Sub(line.to, line.from)))
				within(t, "amplitude", v, amplitude(p), 1e-5)
			}
		})
	}
}

// The 6 dB drop along the long axis of a hill is its length.
func TestDropOfAProfileAlongAHill(t *testing.T) {
	b := blob{x: 50.3, z: 48.9, length: 40, width: 12, tilt: 0.5, height: 2}
	env := draw(t, 101, 101, 1, b)
	sin, cos := math.Sincos(b.tilt)
	for _, line := range []struct {
		name   string
		dx, dz float64
		want   float64
	}{{"along", sin, -cos, b.length}, {"across", cos, sin, b.width}} {
		const half = 40
		profile, spacing, err := sizing.Profile(env,
			r3.Vec{X: b.x - half*line.dx, Z: b.z - half*line.dz}, r3.Vec{X: b.x + half*line.dx, Z: b.z + half*line.dz}, 161)
		if err != nil {
			t.Fatal(err)
		}
		got, err := sizing.Drop(profile, spacing, sizing.SixDB)
		if err != nil {
			t.Fatal(err)
		}
		within(t, "length "+line.name, got.Length(), line.want, 0.01*line.want)
		within(t, "peak "+line.name, got.Peak, half, 0.5) // the chords of the interpolation are flat at the top
	}
}

func TestProfileOfThinGrids(t *testing.T) {
	got, _, err := sizing.Profile(picture(t, []float32{1, 3}), r3.Vec{}, r3.Vec{X: 1e-3}, 3)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{1, 2, 3} {
		within(t, "amplitude of a row", got[i], want, 1e-12)
	}
}

func TestProfileRefuses(t *testing.T) {
	env := picture(t, []float32{0, 1, 0}, []float32{0, 2, float32(math.NaN())})
	a, b := r3.Vec{}, r3.Vec{X: 1e-3, Z: 1e-3}
	for _, test := range []struct {
		name     string
		env      *tfm.Envelope
		from, to r3.Vec
		n        int
		want     string
	}{
		{"no envelope", nil, a, b, 2, "sizing: envelope nil"},
		{"one amplitude", env, a, b, 1, "sizing: profile of 1 amplitudes: want 2"},
		{"no length", env, b, b, 2, "sizing: profile from and to (0.001, 0.001) m"},
		{"from off the grid", env, r3.Vec{X: -1e-4}, b, 2, "sizing: end of profile at (-0.0001, 0) m: want x from 0 to 0.002 m and z from 0 to 0.001 m"},
		{"to off the grid", env, a, r3.Vec{Z: 1.1e-3}, 2, "sizing: end of profile at (0, 0.0011) m"},
		{"NaN end", env, a, r3.Vec{X: math.NaN()}, 2, "sizing: end of profile at (NaN, 0) m"},
		{"NaN on the way", env, a, r3.Vec{X: 2e-3, Z: 1e-3}, 9, "sizing: amplitude NaN at pixel 5"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := sizing.Profile(test.env, test.from, test.to, test.n)
			checkError(t, err, test.want)
		})
	}
}
