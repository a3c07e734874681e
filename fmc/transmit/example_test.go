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
)

// A plane wave at 20° in steel, and its apodisation.
func ExamplePlaneWaves() {
	array, err := fmc.LinearArray(4, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
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

// Four elements fire together in four codes, and the full matrix comes back. The
// samples are invented.
func ExampleDecode() {
	array, err := fmc.LinearArray(4, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	full, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(4), Samples: 3, SampleRate: 50e6})
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
	decoded, report, err := transmit.Decode(context.Background(), coded, nil)
	if err != nil {
		log.Fatal(err)
	}
	trace, _ := decoded.Between(2, 1)
	fmt.Printf("weights of code 3: %v\n", codes[3].Weights)
	fmt.Printf("its trace at receiver 1: %v\n", coded.Trace(3*4+1))
	fmt.Printf("2→1: %v, exact: %v\n", trace, report.Exact)
	// Output:
	// weights of code 3: [1 -1 -1 1]
	// its trace at receiver 1: [4 -9 4]
	// 2→1: [1 4 9], exact: true
}
