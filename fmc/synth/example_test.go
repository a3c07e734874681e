// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"context"
	"fmt"
	"log"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// Make a capture of sixteen elements in contact with a steel plate. The plate contains a
// side-drilled hole. The capture also contains the echo of the back wall, and the faults of an
// instrument. The scene is invented.
func Example() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, steel, 30e-3)
	if err != nil {
		log.Fatal(err)
	}
	like := fmc.Array{Width: 0.6e-3, CentreFrequency: 4e6, Bandwidth: 0.6}
	array, err := fmc.LinearArray(16, 0.7e-3, like)
	if err != nil {
		log.Fatal(err)
	}
	direct, err := wedge.ParseView("L-L")
	if err != nil {
		log.Fatal(err)
	}
	scene := &synth.Scene{
		Setup: *plate, Array: array, Length: 10e-3,
		Reflectors: []synth.Reflector{synth.Hole{X: 2e-3, Z: 18e-3, Diameter: 2e-3}},
		Views:      []wedge.View{direct},
		Walls:      [][]material.Mode{{material.L, material.L}},
	}
	recording := synth.Recording{Samples: 700, SampleRate: 50e6}
	capture, err := synth.Synthesise(context.Background(), scene, recording)
	if err != nil {
		log.Fatal(err)
	}
	receiver := synth.Receiver{Noise: 0.01, Dead: []int{11}, Bits: 12, FullScale: 2, Seed: 1}
	capture, err = receiver.Record(capture)
	if err != nil {
		log.Fatal(err)
	}

	fmt.Printf("%d traces of %d samples\n", len(capture.Pairs), capture.Samples)
	show := func(name string, tx, rx int, from, to float64) {
		trace, _ := capture.Between(tx, rx)
		largest, at := 0.0, 0.0
		for k, v := range trace {
			if t := capture.Time(k); t >= from && t <= to && math.Abs(float64(v)) > largest {
				largest, at = math.Abs(float64(v)), t
			}
		}
		fmt.Printf("%-9s %2d→%-2d  %5.1f %% of the range at %4.1f µs\n",
			name, tx, rx, largest/2048*100, at*1e6)
	}
	show("hole", 7, 7, 4e-6, 8e-6)
	show("back wall", 7, 7, 9e-6, 12e-6)
	show("noise", 7, 11, 4e-6, 12e-6)

	ray := math.Hypot(array.Elements[7].X-2e-3, 18e-3) - 1e-3
	fmt.Printf("straight to the hole's near face and back: %.1f µs\n", 2*ray/steel.Longitudinal*1e6)
	// Output:
	// 256 traces of 700 samples
	// hole       7→7    18.8 % of the range at  5.8 µs
	// back wall  7→7    49.7 % of the range at 10.1 µs
	// noise      7→11    1.4 % of the range at  8.8 µs
	// straight to the hole's near face and back: 5.8 µs
}

// The echo of a side-drilled hole depends on the frequency: the echo of the near face interferes
// with the wave that creeps round the hole.
func ExampleHole() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	frequencies := []float64{1e6, 2e6, 3e6, 4e6, 5e6}
	hole := synth.Hole{Z: 20e-3, Diameter: 1.5e-3}
	around := synth.Surroundings{Part: steel, Dimension: wedge.Section, Frequencies: frequencies}
	scatterers, err := hole.Scatterers(around)
	if err != nil {
		log.Fatal(err)
	}
	down, up := r3.Vec{Z: 1}, r3.Vec{Z: -1}
	spectrum := make([]complex128, len(frequencies))
	scatterers[0].Scatter(spectrum,
		synth.Wave{Mode: material.L, Direction: down, Polarisation: down},
		synth.Wave{Mode: material.L, Direction: up, Polarisation: up})
	mirror := math.Sqrt(0.75e-3 / 2) // amplitude of a cylinder in the limit of short waves, in √m
	for k, f := range frequencies {
		fmt.Printf("%.0f MHz: %.2f of a mirror\n", f/1e6, cmplx.Abs(spectrum[k])/mirror)
	}
	// Output:
	// 1 MHz: 1.11 of a mirror
	// 2 MHz: 1.15 of a mirror
	// 3 MHz: 1.01 of a mirror
	// 4 MHz: 1.00 of a mirror
	// 5 MHz: 1.06 of a mirror
}
