// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package detection_test

import (
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/sizing/detection"
)

// A trial on 48 notches of six heights, invented for this example. The bound is given with its
// method.
func ExampleFitHitMiss() {
	groups := []detection.Group{ // heights in metres
		{Size: 0.5e-3, Trials: 8, Hits: 1}, {Size: 0.8e-3, Trials: 8, Hits: 2}, {Size: 1.2e-3, Trials: 8, Hits: 5},
		{Size: 1.8e-3, Trials: 8, Hits: 7}, {Size: 2.5e-3, Trials: 8, Hits: 8}, {Size: 4e-3, Trials: 8, Hits: 8},
	}
	curve, err := detection.FitHitMiss(groups, nil)
	if err != nil {
		log.Fatal(err)
	}
	bound, err := curve.Bound(0.9, 0.95, detection.LikelihoodRatio)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("a50 %.2f mm, a90 %.2f mm, a90/95 %.2f mm (likelihood ratio)\n",
		curve.Size(0.5)*1e3, curve.Size(0.9)*1e3, bound*1e3)
	// Output:
	// a50 1.01 mm, a90 1.84 mm, a90/95 2.76 mm (likelihood ratio)
}

// Levels of ten notches above the noise, invented for this example. The smallest notch is lost in
// the noise, whose level is 0 dB. A signal of 6 dB counts as detected.
func ExampleFitSignals() {
	readings := []detection.Reading{{Size: 0.5e-3, Signal: 0, Limit: detection.Below}}
	for i, level := range []float64{3, 6, 5, 9, 10, 13, 12, 15, 18} {
		readings = append(readings, detection.Reading{Size: float64(i+3) * 0.25e-3, Signal: level})
	}
	response, err := detection.FitSignals(readings, nil)
	if err != nil {
		log.Fatal(err)
	}
	curve, err := response.Curve(6)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("scatter %.1f dB, a50 %.2f mm, a90 %.2f mm\n", response.Deviation, curve.Size(0.5)*1e3, curve.Size(0.9)*1e3)
	fmt.Printf("notch of 1.5 mm: %.0f %%\n", 100*curve.At(1.5e-3))
	// Output:
	// scatter 1.4 dB, a50 1.11 mm, a90 1.30 mm
	// notch of 1.5 mm: 99 %
}

// How many flaws of one size a demonstration needs, and what a trial with a miss has shown.
func ExampleTrials() {
	for misses := range 3 {
		flaws, err := detection.Trials(0.9, 0.95, misses)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("%d missed: %d flaws\n", misses, flaws)
	}
	shown, err := detection.LowerBound(28, 29, 0.95)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("28 of 29: at least %.3f\n", shown)
	// Output:
	// 0 missed: 29 flaws
	// 1 missed: 46 flaws
	// 2 missed: 61 flaws
	// 28 of 29: at least 0.847
}
