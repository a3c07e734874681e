// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge_test

import (
	"fmt"
	"log"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// The losses of a transverse wave on its path through a contact wedge, down to the back wall and up
// to a point, in decibels, factor by factor. The scenario is invented.
func ExampleAmplitudes() {
	polystyrene := material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(&polystyrene, steel, 12e-3)
	if err != nil {
		log.Fatal(err)
	}
	path, err := plate.Path([]material.Mode{material.T, material.T})
	if err != nil {
		log.Fatal(err)
	}
	acoustics := plate.Acoustics(path)
	acoustics.Dimension = wedge.Section
	acoustics.Frequency = 4e6
	loss := material.Attenuation{{Alpha: 40 / material.DecibelsPerNeper, Frequency: 4e6, Exponent: 1}} // 40 dB/m
	acoustics.Attenuation = []material.Attenuation{loss, nil, nil}
	sin, cos := math.Sincos(36 * math.Pi / 180) // the slope of the wedge
	acoustics.Source = &wedge.Source{Width: 0.5e-3, Normal: r3.Vec{X: sin, Z: cos}, Axis: r3.Vec{X: cos, Z: -sin}}
	amplitudes, err := wedge.NewAmplitudes(path, acoustics)
	if err != nil {
		log.Fatal(err)
	}
	ray := path.Solve(r3.Vec{X: -10e-3, Z: -12e-3}, r3.Vec{X: 14e-3, Z: 8e-3})
	a, err := amplitudes.Along(&ray)
	if err != nil {
		log.Fatal(err)
	}
	lost := func(z complex128) float64 { return math.Abs(20 * math.Log10(cmplx.Abs(z))) }
	fmt.Printf("element    %5.1f dB\n", lost(a.Directivity))
	fmt.Printf("spreading  %5.1f dB from 10 mm on\n", lost(complex(a.Spreading*math.Sqrt(10e-3), 0)))
	for k, name := range []string{"enters", "back wall"} {
		fmt.Printf("%-9s  %5.1f dB\n", name, lost(a.Coefficients[k]*complex(a.Tubes[k], 0)))
	}
	fmt.Printf("losses     %5.1f dB\n", lost(complex(a.Attenuation, 0)))
	fmt.Printf("together   %5.1f dB\n", lost(a.Value()*complex(math.Sqrt(10e-3), 0)))
	// Output:
	// element      0.1 dB
	// spreading    7.1 dB from 10 mm on
	// enters      17.1 dB
	// back wall    0.0 dB
	// losses       0.6 dB
	// together    24.8 dB
}

// The uncertainty of the time of a ray, caused by uncertainties of the set-up.
func ExampleSetup_Derivatives() {
	polystyrene := material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(&polystyrene, steel, 12e-3)
	if err != nil {
		log.Fatal(err)
	}
	path, err := plate.Path([]material.Mode{material.T, material.T})
	if err != nil {
		log.Fatal(err)
	}
	element := r3.Vec{X: -10e-3, Z: -12e-3}
	ray := path.Solve(element, r3.Vec{X: 14e-3, Z: 8e-3})
	d, err := plate.Derivatives(path, &ray, r3.Vec{X: -18e-3, Z: -6e-3}) // about the first element
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("10 m/s in the wedge   %6.1f ns\n", d.Coupling*10*1e9)
	fmt.Printf("10 m/s in the steel   %6.1f ns\n", d.Transverse*10*1e9)
	fmt.Printf("0.1 mm of thickness   %6.1f ns\n", d.Thickness*0.1e-3*1e9)
	fmt.Printf("0.1 mm of height      %6.1f ns\n", d.Height*0.1e-3*1e9)
	fmt.Printf("0.1° of wedge angle   %6.1f ns\n", d.Angle*0.1*math.Pi/180*1e9)
	// Output:
	// 10 m/s in the wedge    -25.8 ns
	// 10 m/s in the steel    -21.9 ns
	// 0.1 mm of thickness     42.5 ns
	// 0.1 mm of height        36.7 ns
	// 0.1° of wedge angle      7.5 ns
}
