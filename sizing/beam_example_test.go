// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
)

// A drop of 14 dB measures a long strip too long, by the same length at each end.
func ExampleBeam_Edge() {
	beam, err := sizing.GaussianBeam(2e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, drop := range []float64{3, 10, 14, 20} {
		from, to := beam.Edge(drop)
		fmt.Printf("%2.0f dB: %+.2f mm at one end, %+.2f mm at the other\n", drop, from*1e3, to*1e3)
	}
	// Output:
	//  3 dB: -0.46 mm at one end, -0.46 mm at the other
	// 10 dB: +0.41 mm at one end, +0.41 mm at the other
	// 14 dB: +0.72 mm at one end, +0.72 mm at the other
	// 20 dB: +1.09 mm at one end, +1.09 mm at the other
}

// The focus of a full matrix is 2 mm wide. Three flaws measure 2.05, 2.5 and 6 mm.
func ExampleBeam_Strip() {
	beam, err := sizing.SincBeam(2e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	from, to := beam.EdgeSD(0, sizing.SixDB, 30, 0) // signal-to-noise ratio 30
	deviation := math.Hypot(from, to)
	for _, measured := range []float64{2.05e-3, 2.5e-3, 6e-3} {
		s, err := beam.Strip(measured, sizing.SixDB, deviation)
		switch {
		case err != nil:
			fmt.Println(err)
		case !s.Resolved:
			fmt.Printf("measured %.2f mm: at most %.1f mm, if it is a strip\n", measured*1e3, s.High*1e3)
		default:
			fmt.Printf("measured %.2f mm: %.1f mm, from %.1f to %.1f mm\n",
				measured*1e3, s.Length*1e3, s.Low*1e3, s.High*1e3)
		}
	}
	// Output:
	// measured 2.05 mm: at most 1.4 mm, if it is a strip
	// measured 2.50 mm: 2.2 mm, from 1.9 to 2.4 mm
	// measured 6.00 mm: 5.9 mm, from 5.8 to 6.0 mm
}

// The profile of the beam along a fusion face, from the predicted point spread.
func ExampleNewBeam() {
	_, spread, err := imaged("weld32", "T-T", 18e-3, 22e-3, 7e-3, 11e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	spot, err := spread.At(r3.Vec{X: 20e-3, Z: 9e-3})
	if err != nil {
		fmt.Println(err)
		return
	}
	const n, spacing = 201, 0.05e-3
	sin, cos := math.Sincos(30 * math.Pi / 180) // the face leans by 30°
	profile := make([]float64, n)
	for i := range profile {
		d := float64(i-n/2) * spacing
		profile[i] = spot.Amplitude(r3.Vec{X: d * sin, Z: -d * cos})
	}
	beam, err := sizing.NewBeam(profile, spacing)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, drop := range []float64{sizing.SixDB, 20} {
		from, to := beam.Point(drop)
		fmt.Printf("%2.0f dB drop: a point shows %.1f mm, a strip of 5 mm %.1f mm\n",
			drop, (from+to)*1e3, beam.Measured(5e-3, drop)*1e3)
	}
	// Output:
	//  6 dB drop: a point shows 1.6 mm, a strip of 5 mm 5.1 mm
	// 20 dB drop: a point shows 2.9 mm, a strip of 5 mm 7.1 mm
}

// In the 20 dB drop method the edges of the beam are subtracted. The beam was measured on a small
// hole (an invented profile).
func ExampleBeam_Within() {
	const spacing = 0.2e-3
	hole := []float64{0, 1, 5, 14, 32, 60, 88, 100, 89, 62, 34, 15, 5, 1, 0}
	flaw := []float64{0, 2, 9, 26, 51, 78, 95, 100, 99, 100, 98, 92, 74, 47, 22, 7, 1, 0}
	beam, err := sizing.NewBeam(hole, spacing)
	if err != nil {
		fmt.Println(err)
		return
	}
	extent, err := sizing.Drop(flaw, spacing, 20)
	if err != nil {
		fmt.Println(err)
		return
	}
	from, to, err := beam.Within(extent, 20)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("20 dB drop %.2f mm, without the beam %.2f mm\n", extent.Length()*1e3, (to-from)*1e3)
	strip, err := beam.Strip(extent.Length(), 20, 0.05e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("a strip that measures as long: %.2f mm\n", strip.Length*1e3)
	// Output:
	// 20 dB drop 2.55 mm, without the beam 0.76 mm
	// a strip that measures as long: 1.45 mm
}
