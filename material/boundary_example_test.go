// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material_test

import (
	"fmt"
	"log"
	"math"
	"math/cmplx"
	"strings"

	"github.com/isochron-imaging/isochron/material"
)

// One boundary, water on steel at normal incidence, in the three conventions. The transmitted wave
// has nearly twice the incident pressure, a sixteenth of the displacement and an eighth of the
// energy. All three numbers describe the same wave.
func ExampleBoundary_Scatter() {
	water := material.Isotropic{Density: 1000, Longitudinal: 1480}
	steel := material.Isotropic{Density: 7700, Longitudinal: 5900, Transverse: 3230}
	b, err := material.NewBoundary(water, steel, material.Welded)
	if err != nil {
		log.Fatal(err)
	}
	s, err := b.Scatter(material.L, 0)
	if err != nil {
		log.Fatal(err)
	}
	const row = "%-12s  reflected %6.3f  transmitted %6.3f\n"
	fmt.Printf(row, "pressure", real(s.Pressure.Reflected[material.L]),
		real(s.Pressure.Transmitted[material.L]))
	fmt.Printf(row, "displacement", real(s.Displacement.Reflected[material.L]),
		real(s.Displacement.Transmitted[material.L]))
	fmt.Printf(row, "energy", s.Energy.Reflected[material.L], s.Energy.Transmitted[material.L])
	// Output:
	// pressure      reflected  0.937  transmitted  1.937
	// displacement  reflected  0.937  transmitted  0.063
	// energy        reflected  0.878  transmitted  0.122
}

// The echo transmittance of a contact wedge of acrylic on steel for a transverse beam, by the angle
// of the beam in the steel: the amplitude of the echo of a perfect reflector. It is greatest near
// 38° and falls slowly up to 70°. Below 33° a second, longitudinal beam enters the steel.
//
// The speeds in acrylic are from memory of the tables of Krautkrämer and Krautkrämer, Ultrasonic
// Testing of Materials. Other books have a transverse speed of 1100 to 1120 m/s.
func ExampleBoundary_RoundTrip() {
	acrylic := material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	b, err := material.NewBoundary(acrylic, steel, material.LiquidFilm)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("beam  wedge  echo transmittance")
	for _, degrees := range []float64{34, 36, 38, 40, 45, 50, 55, 60, 65, 70, 75, 80} {
		beam := degrees * math.Pi / 180
		wedge := material.Refract(beam, steel.Transverse, acrylic.Longitudinal)
		echo, err := b.RoundTrip(material.L, material.T, wedge)
		if err != nil {
			log.Fatal(err)
		}
		part := cmplx.Abs(echo)
		fmt.Printf("%3.0f°  %4.1f°  %.3f %6.1f dB  %s\n", degrees, wedge*180/math.Pi,
			part, 20*math.Log10(part), strings.Repeat("▪", int(math.Round(part*100))))
	}
	// Output:
	// beam  wedge  echo transmittance
	//  34°  28.0°  0.141  -17.0 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  36°  29.5°  0.277  -11.2 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  38°  31.1°  0.287  -10.9 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  40°  32.6°  0.275  -11.2 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  45°  36.4°  0.243  -12.3 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  50°  40.0°  0.222  -13.1 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  55°  43.4°  0.208  -13.6 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  60°  46.6°  0.199  -14.0 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  65°  49.5°  0.191  -14.4 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  70°  52.0°  0.180  -14.9 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  75°  54.1°  0.162  -15.8 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	//  80°  55.7°  0.130  -17.7 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪
}

// The 60° transverse probe can miss cracks that open at the back wall. The corner of back wall and
// crack returns the whole wave from 35° to 55°. At 60° the wave falls on the crack at 30°, which
// converts nearly the whole wave into a longitudinal wave that leaves in another direction.
func ExampleCornerEcho() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	face, err := material.NewFreeSurface(steel)
	if err != nil {
		log.Fatal(err)
	}
	for degrees := 35; degrees <= 75; degrees += 5 {
		echo, err := material.CornerEcho(face, face, material.T, float64(degrees)*math.Pi/180)
		if err != nil {
			log.Fatal(err)
		}
		part := cmplx.Abs(echo)
		loss := math.Abs(20 * math.Log10(part))
		fmt.Printf("%d°  echo %.3f  loss %4.1f dB  %s\n", degrees, part, loss,
			strings.Repeat("▪", int(math.Round(part*20))))
	}
	// Output:
	// 35°  echo 1.000  loss  0.0 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	// 40°  echo 1.000  loss  0.0 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	// 45°  echo 1.000  loss  0.0 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	// 50°  echo 1.000  loss  0.0 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	// 55°  echo 1.000  loss  0.0 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪▪
	// 60°  echo 0.116  loss 18.7 dB  ▪▪
	// 65°  echo 0.289  loss 10.8 dB  ▪▪▪▪▪▪
	// 70°  echo 0.512  loss  5.8 dB  ▪▪▪▪▪▪▪▪▪▪
	// 75°  echo 0.713  loss  2.9 dB  ▪▪▪▪▪▪▪▪▪▪▪▪▪▪
}
