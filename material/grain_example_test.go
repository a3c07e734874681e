// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material_test

import (
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/material"
)

// Scattering by the grains of an iron plate. Coarse grains attenuate high frequencies strongly, and
// transverse waves more than longitudinal waves.
func ExampleGrains() {
	for _, diameter := range []float64{10e-6, 20e-6, 50e-6} {
		g := material.Grains{
			Medium:   material.Isotropic{Density: 7870, Longitudinal: 5960, Transverse: 3240},
			Crystal:  material.Cubic{C11: 237e9, C12: 141e9, C44: 116e9},
			Diameter: diameter,
		}
		l, err := g.Rayleigh(material.L)
		if err != nil {
			log.Fatal(err)
		}
		t, err := g.Rayleigh(material.T)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("%2.0f µm: L %.3f dB/m, T %6.3f dB/m at 5 MHz\n", diameter*1e6, l.Decibels(5e6),
			t.Decibels(5e6))
	}
	// Output:
	// 10 µm: L 0.023 dB/m, T  0.107 dB/m at 5 MHz
	// 20 µm: L 0.184 dB/m, T  0.859 dB/m at 5 MHz
	// 50 µm: L 2.874 dB/m, T 13.415 dB/m at 5 MHz
}
