// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam_test

import (
	"fmt"
	"log"
	"math"
	"math/cmplx"
	"strings"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/beam"
)

// One beam has many edges: the constants of the textbooks, each with its level.
func ExampleLevel() {
	probe := beam.Disc{Diameter: 10e-3, Wavelength: 1.184e-3} // 5 MHz in steel
	for _, edge := range []struct {
		name  string
		level beam.Level
	}{
		{"half the echo", beam.HalfPulseEcho},
		{"half the amplitude one-way", beam.HalfOneWay},
		{"echo down 20 dB", beam.PulseEcho(-20)},
		{"one-way down 20 dB", beam.OneWay(-20)},
		{"first zero", beam.FirstZero},
	} {
		angle := probe.HalfAngle(edge.level)
		k := math.Sin(angle) * probe.Diameter / probe.Wavelength
		fmt.Printf("%-27s k = %.3f  ±%.2f°\n", edge.name, k, angle*180/math.Pi)
	}
	// Output:
	// half the echo               k = 0.514  ±3.49°
	// half the amplitude one-way  k = 0.705  ±4.79°
	// echo down 20 dB             k = 0.869  ±5.91°
	// one-way down 20 dB          k = 1.089  ±7.41°
	// first zero                  k = 1.220  ±8.30°
}

// The pressure on the axis of a probe has maxima and zeros in the near field. After the last
// maximum it falls steadily in the far field.
func ExampleDisc_Axial() {
	probe := beam.Disc{Diameter: 10e-3, Wavelength: 1.184e-3}
	fmt.Printf("near field %.1f mm\n", probe.NearField()*1e3)
	for _, millimetres := range []float64{5, 10, 15, 20, 25, 30, 40, 60, 80} {
		p := probe.Axial(millimetres * 1e-3)
		fmt.Printf("%2.0f mm %.2f |%s\n", millimetres, p, strings.Repeat("#", int(20*p+0.5)))
	}
	// Output:
	// near field 21.1 mm
	//  5 mm 1.42 |############################
	// 10 mm 0.02 |
	// 15 mm 1.67 |#################################
	// 20 mm 2.00 |########################################
	// 25 mm 1.93 |#######################################
	// 30 mm 1.78 |####################################
	// 40 mm 1.47 |#############################
	// 60 mm 1.05 |#####################
	// 80 mm 0.80 |################
}

// The resolution of an array depends on the passes that are focused.
func ExampleStrip_FocalWidth() {
	array := beam.Strip{Width: 64 * 0.6e-3, Wavelength: 1.184e-3} // 64 elements, 5 MHz in steel
	const depth = 60e-3
	fmt.Printf("all pairs (total focusing)      %.2f mm\n",
		array.FocalWidth(depth, beam.HalfPulseEcho)*1e3)
	fmt.Printf("transmission only               %.2f mm\n",
		array.FocalWidth(depth, beam.HalfOneWay)*1e3)
	fmt.Printf("each element for itself         %.2f mm\n",
		array.FocalWidth(depth, beam.HalfOneWay)/2*1e3)
	// The aperture is wide relative to the depth: use the distance of its edge.
	edge := math.Hypot(depth, array.Width/2)
	fmt.Printf("all pairs, beyond the paraxial  %.2f mm\n",
		array.FocalWidth(edge, beam.HalfPulseEcho)*1e3)
	// Output:
	// all pairs (total focusing)      1.64 mm
	// transmission only               2.23 mm
	// each element for itself         1.12 mm
	// all pairs, beyond the paraxial  1.72 mm
}

// A pitch without grating lobes for longitudinal waves can have grating lobes for transverse waves.
func ExampleGratingLobes() {
	const pitch, frequency = 0.6e-3, 5e6
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	for _, mode := range []material.Mode{material.L, material.T} {
		lambda := steel.Speed(mode) / frequency
		fmt.Printf("%v: wavelength %.3f mm, pitch up to %.3f mm for 45°\n", mode, lambda*1e3,
			beam.MaxPitch(lambda, math.Pi/4)*1e3)
		for lobe := range beam.GratingLobes(pitch, lambda, math.Pi/4) {
			fmt.Printf("   grating lobe at %.1f°\n", lobe*180/math.Pi)
		}
	}
	// Output:
	// L: wavelength 1.184 mm, pitch up to 0.694 mm for 45°
	// T: wavelength 0.651 mm, pitch up to 0.381 mm for 45°
	//    grating lobe at -22.2°
}

// An element in contact with steel sends only L straight ahead. At large angles it sends more T
// than L.
func ExampleContactElement_Directivity() {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	e := beam.ContactElement{Width: 0.5e-3, Frequency: 5e6, Medium: steel}
	fmt.Println("angle    L     T")
	for degree := 0; degree <= 80; degree += 10 {
		a := float64(degree) * math.Pi / 180
		l, t := cmplx.Abs(e.Directivity(material.L, a)), cmplx.Abs(e.Directivity(material.T, a))
		fmt.Printf(" %2d°  %.3f %.3f\n", degree, l, t)
	}
	// Output:
	// angle    L     T
	//   0°  1.000 0.000
	//  10°  0.974 0.450
	//  20°  0.902 0.779
	//  30°  0.794 0.840
	//  40°  0.668 1.227
	//  50°  0.539 0.832
	//  60°  0.419 0.571
	//  70°  0.311 0.372
	//  80°  0.200 0.192
}

// A small element on a 36° wedge of acrylic reaches all beam angles in use for transverse waves,
// with nearly the same amplitude.
func ExampleWedgeElement_Directivity() {
	w := beam.WedgeElement{
		Element: beam.ContactElement{
			Width: 0.5e-3, Frequency: 5e6,
			Medium: material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430},
		},
		Tilt:    36 * math.Pi / 180,
		Part:    material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255},
		Contact: material.LiquidFilm,
	}
	for degree := 30; degree <= 80; degree += 10 {
		t, err := w.Directivity(material.T, float64(degree)*math.Pi/180)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("%2d° %.3f %s\n", degree, cmplx.Abs(t),
			strings.Repeat("#", int(100*cmplx.Abs(t)+0.5)))
	}
	// Output:
	// 30° 0.102 ##########
	// 40° 0.194 ###################
	// 50° 0.181 ##################
	// 60° 0.174 #################
	// 70° 0.174 #################
	// 80° 0.184 ##################
}
