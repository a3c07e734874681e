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
