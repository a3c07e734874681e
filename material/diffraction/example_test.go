// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package diffraction_test

import (
	"fmt"
	"log"
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/diffraction"
)

// Both tips of a vertical crack between two probes. Below 39.2° both echoes have the same phase.
func ExampleTip_Coefficient() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	tip, err := diffraction.NewTip(steel)
	if err != nil {
		log.Fatal(err)
	}
	for _, degrees := range []float64{30, 45, 60} {
		angle := degrees * math.Pi / 180 // from the vertical
		upper := tip.Coefficient(material.L, material.L, math.Pi-angle, angle-math.Pi)
		lower := tip.Coefficient(material.L, material.L, angle, -angle)
		phase := math.Abs(cmplx.Phase(upper/lower)) * 180 / math.Pi
		fmt.Printf("%v°: upper %.3f, lower %.3f, phases %.0f° apart\n",
			degrees, cmplx.Abs(upper), cmplx.Abs(lower), phase)
	}
	// Output:
	// 30°: upper 0.014, lower 0.022, phases 0° apart
	// 45°: upper 0.031, lower 0.020, phases 180° apart
	// 60°: upper 0.082, lower 0.105, phases 180° apart
}

// The echo of cracks of 0.5 and 2 mm over the angle from their normal, for T waves of 5 MHz. The
// shorter crack shows in many more directions. The length from its lobe needs no tips.
func ExampleCrack() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	const frequency = 5e6
	for _, length := range []float64{0.5e-3, 2e-3} {
		crack, err := diffraction.NewCrack(steel, length, frequency)
		if err != nil {
			log.Fatal(err)
		}
		echo := func(fromNormal float64) float64 {
			angle := math.Pi/2 - fromNormal
			return cmplx.Abs(crack.Amplitude(material.T, material.T, angle, angle))
		}
		half := 0.0
		for echo(half) > echo(0)/2 {
			half += 1e-4
		}
		read := diffraction.LobeLength(half, steel.Transverse/frequency)
		fmt.Printf("%.1f mm: half-width of the lobe %.1f°, length from it %.2f mm\n", length*1e3, half*180/math.Pi, read*1e3)
	}
	// Output:
	// 0.5 mm: half-width of the lobe 21.3°, length from it 0.54 mm
	// 2.0 mm: half-width of the lobe 5.8°, length from it 1.95 mm
}
