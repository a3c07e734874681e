// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package amplitude_test

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/material/beam"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/amplitude"
)

// Three side-drilled holes of one block give the curve (invented readings).
func ExampleNewCurve() {
	curve, err := amplitude.NewCurve([]amplitude.Reading{
		{Distance: 20e-3, Amplitude: 80},
		{Distance: 40e-3, Amplitude: 36},
		{Distance: 80e-3, Amplitude: 12},
	}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	level, err := curve.LevelDB(55e-3, 40)
	fmt.Printf("the indication is %.1f dB over the holes, error %v\n", level, err)
	gain, err := curve.GainDB(55e-3)
	fmt.Printf("time-corrected gain %.1f dB, error %v\n", gain, err)
	_, err = curve.LevelDB(90e-3, 40)
	fmt.Println(err)
	// Output:
	// the indication is 5.3 dB over the holes, error <nil>
	// time-corrected gain 11.3 dB, error <nil>
	// amplitude: distance 0.09 m is outside of the distance-amplitude curve: want 0.02 to 0.08 m
}

// What a hole, a notch and a wall return at 60 mm.
func ExampleEcho() {
	probe := beam.Disc{Diameter: 10e-3, Wavelength: 1.48e-3}
	const distance = 60e-3
	for _, r := range []amplitude.Reflector{
		amplitude.Wall{},
		amplitude.FlatHole{Diameter: 3e-3},
		amplitude.SideHole{Diameter: 3e-3},
		amplitude.Notch{Height: 1e-3, Length: math.Inf(1), Angle: math.Pi / 4, Corner: 1},
	} {
		echo, err := amplitude.Echo(probe, r, distance)
		fmt.Printf("%-22T %5.1f dB, error %v\n", r, sizing.LevelDB(echo, 1), err)
	}
	// Output:
	// amplitude.Wall          -7.7 dB, error <nil>
	// amplitude.FlatHole     -23.9 dB, error <nil>
	// amplitude.SideHole     -23.8 dB, error <nil>
	// amplitude.Notch        -21.1 dB, error <nil>
}

// An indication at 60 mm is 14 dB below the back wall of the block at 100 mm.
func ExampleEquivalentDisc() {
	probe := beam.Disc{Diameter: 10e-3, Wavelength: 1.48e-3}
	wall := amplitude.Known{Reflector: amplitude.Wall{}, Distance: 100e-3}
	transfer := amplitude.Transfer{SurfaceDB: 3, BlockAttenuation: 2, PartAttenuation: 20}
	disc, err := amplitude.EquivalentDisc(probe, -14, wall, 60e-3, &transfer)
	fmt.Printf("equivalent disc of %.1f mm, error %v\n", disc*1e3, err)
	_, err = amplitude.EquivalentDisc(probe, 6, wall, 60e-3, &transfer)
	fmt.Println(err)
	// Output:
	// equivalent disc of 3.6 mm, error <nil>
	// amplitude: level of 11 dB at 0.06 m is above a disc as wide as the beam: no disc has this echo
}

// A block and a part, two wall echoes each (invented readings).
func ExampleNewTransfer() {
	block := [2]amplitude.Reading{{Distance: 50e-3, Amplitude: 80}, {Distance: 100e-3, Amplitude: 39}}
	part := [2]amplitude.Reading{{Distance: 30e-3, Amplitude: 70}, {Distance: 60e-3, Amplitude: 26}}
	transfer, err := amplitude.NewTransfer(block, part, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("surface %.1f dB, block %.1f dB/m, part %.1f dB/m\n",
		transfer.SurfaceDB, transfer.BlockAttenuation, transfer.PartAttenuation)
	fmt.Printf("more gain at 40 mm: %.1f dB\n", transfer.DB(40e-3))
	// Output:
	// surface 3.2 dB, block 2.2 dB/m, part 43.0 dB/m
	// more gain at 40 mm: 6.5 dB
}

// A side-drilled hole and the flat-bottomed hole with an equal echo.
func ExampleSideHole_FlatHole() {
	hole := amplitude.SideHole{Diameter: 3e-3}
	for _, distance := range []float64{50e-3, 100e-3} {
		disc, err := hole.FlatHole(distance, 1.48e-3)
		fmt.Printf("at %.0f mm: %.2f mm, error %v\n", distance*1e3, disc.Diameter*1e3, err)
	}
	_, err := hole.FlatHole(12e-3, 1.48e-3)
	fmt.Println(err)
	// Output:
	// at 50 mm: 2.86 mm, error <nil>
	// at 100 mm: 3.40 mm, error <nil>
	// amplitude: distance 0.012 m: want at least 0.015 m, five diameters, and finite
}
