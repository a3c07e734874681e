// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"fmt"
	"log"
	"math"
	"math/rand/v2"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
)

// Judge an array: capture the echo of the back wall of a plain block, assess the capture,
// and leave out what is dead.
func Example() {
	array, err := fmc.LinearArray(12, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	capture, err := fmc.New(fmc.Capture{
		Array: array, Pairs: fmc.FullPairs(12),
		Samples: 360, SampleRate: 40e6, FirstSample: -1e-6,
	})
	if err != nil {
		log.Fatal(err)
	}
	// In place of an instrument: an invented plate of 15 mm of steel, and an array whose
	// element 3 is dead, 5 wired the wrong way round and 8 weak by 6 dB.
	gain := []float64{1, 1, 1, 0, 1, -1, 1, 1, 0.5, 1, 1, 1}
	noise := rand.New(rand.NewPCG(1, 2))
	for pair, trace := range capture.Traces() {
		x := array.Elements[pair.Rx].X - array.Elements[pair.Tx].X
		arrival := math.Hypot(x, 2*15e-3) / 5920
		for k := range trace {
			t := capture.Time(k) - arrival
			pulse := math.Exp(-t*t/(2*0.12e-6*0.12e-6)) * math.Cos(2*math.Pi*5e6*t)
			trace[k] = float32(gain[pair.Tx]*gain[pair.Rx]*pulse + 0.1*noise.NormFloat64())
		}
	}

	report, err := health.Assess(capture, &health.Options{Echo: health.Gate{From: 4.5e-6, To: 6e-6}})
	if err != nil {
		log.Fatal(err)
	}
	for _, f := range report.Findings {
		fmt.Printf("element %d is %v\n", f.Elements[0], f.Kind)
	}
	fmt.Printf("signal-to-noise ratio %.0f dB\n", report.SNR)
	fmt.Printf("centre frequency %.0f MHz\n", report.CentreFrequency/1e6)

	repair, err := health.NewRepair(capture, report, nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("left out %v, flipped %v, all pairs × %.2f\n", repair.LeftOut, repair.Flipped, repair.Scale)
	// Output:
	// element 3 is dead
	// element 8 is weak
	// element 5 is reversed
	// signal-to-noise ratio 20 dB
	// centre frequency 5 MHz
	// left out [3], flipped [5], all pairs × 1.19
}
