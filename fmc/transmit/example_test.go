// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// A plane wave at 20° in steel, with an apodisation.
func ExamplePlaneWaves() {
	array, err := fmc.LinearArray(4, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	sin, cos := math.Sincos(20 * math.Pi / 180)
	events, err := transmit.PlaneWaves(array, 5920, []r3.Vec{{X: sin, Z: cos}})
	if err != nil {
		log.Fatal(err)
	}
	wave := events[0]
	wave.Weights[0], wave.Weights[3] = 0.5, 0.5
	for e, d := range wave.Delays {
		fmt.Printf("element %d: %5.1f ns, weight %.1f\n", e, 1e9*d, wave.Weights[e])
	}
	// Output:
	// element 0:   0.0 ns, weight 0.5
	// element 1:  34.7 ns, weight 1.0
	// element 2:  69.3 ns, weight 1.0
	// element 3: 104.0 ns, weight 0.5
}

// fourElements returns a linear array of four elements, 2 mm apart.
func fourElements() fmc.Array {
	array, err := fmc.LinearArray(4, 2e-3,
		fmc.Array{Width: 1.8e-3, CentreFrequency: 2e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	return array
}

// A beam in steel that is focused 6 mm deep, below the left end of the array. The farthest element
// fires first.
func ExampleFocused() {
	events, err := transmit.Focused(fourElements(), 5920, []r3.Vec{{X: -3e-3, Z: 6e-3}})
	if err != nil {
		log.Fatal(err)
	}
	for e, d := range events[0].Delays {
		fmt.Printf("element %d: %5.1f ns\n", e, 1e9*d)
	}
	// Output:
	// element 0: 419.8 ns
	// element 1: 365.0 ns
	// element 2: 215.2 ns
	// element 3:   0.0 ns
}

// A wave that seems to come from a virtual source 6 mm behind the middle of the array. It lights up
// a wide sector at once. The nearest elements fire first.
func ExampleDiverging() {
	events, err := transmit.Diverging(fourElements(), 5920, []r3.Vec{{Z: -6e-3}})
	if err != nil {
		log.Fatal(err)
	}
	for e, d := range events[0].Delays {
		fmt.Printf("element %d: %5.1f ns\n", e, 1e9*d)
	}
	// Output:
	// element 0: 105.6 ns
	// element 1:   0.0 ns
	// element 2:   0.0 ns
	// element 3: 105.6 ns
}

// A beam through 15 mm of water into a steel plate, focused 10 mm deep. The times of flight come
// from the rays through the surface, which bend there. The scenario is invented.
func ExampleFocalLaw() {
	water := material.Isotropic{Density: 998, Longitudinal: 1482}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	plate, err := wedge.NewPlate(&water, steel, 20e-3)
	if err != nil {
		log.Fatal(err)
	}
	path, err := plate.Path([]material.Mode{material.L})
	if err != nil {
		log.Fatal(err)
	}
	array, err := fourElements().Place(r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Z: -15e-3})
	if err != nil {
		log.Fatal(err)
	}
	times := make([]float64, len(array.Elements))
	for e, element := range array.Elements {
		times[e] = path.Solve(element, r3.Vec{Z: 10e-3}).Time // NaN if there is no ray
	}
	event, err := transmit.FocalLaw(times)
	if err != nil {
		log.Fatal(err)
	}
	for e, d := range event.Delays {
		fmt.Printf("element %d: %.3f µs of flight, fires at %5.1f ns\n", e, 1e6*times[e], 1e9*d)
	}
	// Output:
	// element 0: 11.865 µs of flight, fires at   0.0 ns
	// element 1: 11.817 µs of flight, fires at  48.6 ns
	// element 2: 11.817 µs of flight, fires at  48.6 ns
	// element 3: 11.865 µs of flight, fires at   0.0 ns
}

// Four elements fire together in four codes, and the full matrix is decoded from the codes. The
// samples are invented.
func ExampleDecode() {
	array, err := fmc.LinearArray(4, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	full, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(4), Samples: 3,
		SampleRate: 50e6})
	if err != nil {
		log.Fatal(err)
	}
	for i := range full.Data {
		full.Data[i] = float32(i * i % 13)
	}
	codes, err := transmit.Hadamard(4)
	if err != nil {
		log.Fatal(err)
	}
	coded, err := transmit.Encode(context.Background(), full, codes, nil)
	if err != nil {
		log.Fatal(err)
	}
	decoded, recovery, err := transmit.Decode(context.Background(), coded, nil)
	if err != nil {
		log.Fatal(err)
	}
	trace, _ := decoded.Between(2, 1)
	fmt.Printf("weights of code 3: %v\n", codes[3].Weights)
	fmt.Printf("its trace at receiver 1: %v\n", coded.Trace(3*4+1))
	fmt.Printf("2→1: %v, exact: %v\n", trace, recovery.Exact)
	// Output:
	// weights of code 3: [1 -1 -1 1]
	// its trace at receiver 1: [4 -9 4]
	// 2→1: [1 4 9], exact: true
}
