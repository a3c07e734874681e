// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material_test

import (
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// The vertically polarised transverse wave falls on the fusion face of an austenitic weld at 50°.
// The grains of the weld metal stand at right angles to the face, or lean by 20°.
func ExampleAnisotropicBoundary() {
	parent := material.Isotropic{Density: 7900, Longitudinal: 5790, Transverse: 3100}
	metal, err := material.FindCrystal("weld metal X6CrNi18-11")
	if err != nil {
		log.Fatal(err)
	}
	const degree = math.Pi / 180
	slowness := r2.Vec{X: math.Sin(50*degree) / parent.Transverse}
	for _, lean := range []float64{0, 20} {
		grains := metal.Medium
		turn := r3.NewRotation(lean*degree, r3.Vec{Y: 1}) // from z towards x
		if grains.Stiffness, err = metal.Medium.Stiffness.Rotate(turn); err != nil {
			log.Fatal(err)
		}
		face, err := material.NewAnisotropicBoundary(parent, grains, material.Welded)
		if err != nil {
			log.Fatal(err)
		}
		s, err := face.Scatter(slowness)
		if err != nil {
			log.Fatal(err)
		}
		for i, in := range s.Incident {
			if in.Lower || math.Abs(real(in.Polarisation[1])) > 0.5 {
				continue // from the other side, or horizontally polarised
			}
			for k, out := range s.Leaving {
				if energy := s.Energy[i][k]; energy > 1e-4 && out.Lower {
					angle := math.Atan2(out.Group.X, out.Group.Z) / degree
					fmt.Printf("grains at %2.0f°: %.1f %% of the energy goes on at %.0f°\n", lean, 100*energy, angle)
				}
			}
		}
	}
	// Output:
	// grains at  0°: 96.7 % of the energy goes on at 23°
	// grains at 20°: 98.1 % of the energy goes on at 10°
}
