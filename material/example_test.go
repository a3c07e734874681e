// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material_test

import (
	"fmt"
	"log"
	"math"
	"strings"

	"github.com/isochron-imaging/isochron/material"
)

// The critical angles of an acrylic wedge and of water, for parts of the handbook. Between the
// first and the second critical angle a wedge sends transverse waves only. Angle probes work in
// this range.
func ExampleCriticalAngle() {
	book := material.Handbook()
	acrylic, err := book.Find("acrylic")
	if err != nil {
		log.Fatal(err)
	}
	water, err := material.Water(20)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("part                 acrylic 1st, 2nd   water 1st, 2nd")
	for _, name := range []string{"steel", "stainless steel 347", "aluminium", "titanium", "copper"} {
		e, err := book.Find(name)
		if err != nil {
			log.Fatal(err)
		}
		part, err := e.Isotropic()
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("%-19s", name)
		for _, speed := range []float64{acrylic.Longitudinal.Value, water.Longitudinal} {
			for _, into := range []float64{part.Longitudinal, part.Transverse} {
				if angle := material.CriticalAngle(speed, into); math.IsNaN(angle) {
					fmt.Printf("%9s", "none")
				} else {
					fmt.Printf("%8.1f°", angle*180/math.Pi)
				}
			}
		}
		fmt.Println()
	}
	// The transverse speed of copper is below the longitudinal speed of acrylic. On copper a wedge
	// of acrylic has therefore no second critical angle.

	// Output:
	// part                 acrylic 1st, 2nd   water 1st, 2nd
	// steel                  27.6°    57.7°    14.6°    27.3°
	// stainless steel 347    28.1°    61.7°    14.8°    28.6°
	// aluminium              25.7°    60.7°    13.6°    28.3°
	// titanium               25.9°    58.1°    13.7°    27.5°
	// copper                 35.5°     none    18.4°    41.0°
}

// A wedge is cut for one beam angle in one steel. In another steel the same wedge has another beam
// angle.
func ExampleRefract() {
	const wedge = 2730.0                // acrylic
	const nominal, other = 3255, 3190.0 // transverse speeds in m/s; the second is invented
	for _, beam := range []float64{45, 60, 70} {
		cut := material.Refract(beam*math.Pi/180, nominal, wedge)
		got := material.Refract(cut, wedge, other)
		fmt.Printf("%.0f° beam: wedge cut at %.2f°; at %.0f m/s the beam is at %.1f°\n", beam,
			cut*180/math.Pi, other, got*180/math.Pi)
	}
	// Output:
	// 45° beam: wedge cut at 36.37°; at 3190 m/s the beam is at 43.9°
	// 60° beam: wedge cut at 46.58°; at 3190 m/s the beam is at 58.1°
	// 70° beam: wedge cut at 52.01°; at 3190 m/s the beam is at 67.1°
}

// Density and two wave speeds determine all elastic constants of an isotropic solid.
func ExampleIsotropic() {
	steel := material.Isotropic{Density: 7700, Longitudinal: 5900, Transverse: 3230}
	fmt.Printf("Poisson's ratio    %.4f\n", steel.PoissonRatio())
	fmt.Printf("Young's modulus    %.1f GPa\n", steel.YoungModulus()/1e9)
	fmt.Printf("shear modulus      %.1f GPa\n", steel.ShearModulus()/1e9)
	fmt.Printf("bulk modulus       %.1f GPa\n", steel.BulkModulus()/1e9)
	fmt.Printf("Rayleigh speed     %.1f m/s\n", steel.Rayleigh())
	fmt.Printf("in a thin bar      %.1f m/s\n", steel.BarSpeed())
	fmt.Printf("in a thin plate    %.1f m/s\n", steel.PlateSpeed())
	fmt.Printf("impedance          %.1f MRayl\n", steel.Impedance(material.L)/1e6)
	// Output:
	// Poisson's ratio    0.2860
	// Young's modulus    206.6 GPa
	// shear modulus      80.3 GPa
	// bulk modulus       160.9 GPa
	// Rayleigh speed     2988.4 m/s
	// in a thin bar      5180.1 m/s
	// in a thin plate    5405.9 m/s
	// impedance          45.4 MRayl
}

// Where publications disagree, the table has every value and a note.
func ExampleTable_Lookup() {
	for _, e := range material.Handbook().Lookup("PMMA") {
		fmt.Printf("%s: %.0f m/s longitudinal, %.0f m/s transverse\n", e.Name, e.Longitudinal.Value,
			e.Transverse.Value)
		source, _, _ := strings.Cut(e.Source, ",")
		fmt.Printf("  %s\n", source)
	}
	e, err := material.Handbook().Find("PMMA")
	if err != nil {
		log.Fatal(err)
	}
	note, _, _ := strings.Cut(e.Note, ":")
	fmt.Println(note)
	// Output:
	// acrylic: 2730 m/s longitudinal, 1430 m/s transverse
	//   from memory of Krautkrämer and Krautkrämer
	// acrylic: 2670 m/s longitudinal, 1120 m/s transverse
	//   ASTM E494
	// acrylic: 2680 m/s longitudinal, 1100 m/s transverse
	//   from memory of the CRC Handbook of Chemistry and Physics
	// sources disagree on the transverse speed
}

// The user's own measurements precede the handbook's values, which stay available for comparison.
// The numbers are invented demo values.
func ExampleReadTable() {
	const own = `# wedges in use
name,class,temperature_c,density_kg_m3,longitudinal_m_s,transverse_m_s,longitudinal_slope_m_s_k,transverse_slope_m_s_k,source
acrylic,plastic,22,1182,2738±4,1385±6,-2.4,-1.1,"shop record 14, through-transmission on wedge 7"
`
	wedges, err := material.ReadTable(strings.NewReader(own))
	if err != nil {
		log.Fatal(err)
	}
	table := material.Handbook().Merge(wedges)
	acrylic, err := table.Find("Acrylic")
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f ± %.0f m/s at %.0f °C, and %d published entries after it\n",
		acrylic.Longitudinal.Value, acrylic.Longitudinal.Spread, acrylic.Celsius, len(table.Lookup("acrylic"))-1)
	warm, err := acrylic.IsotropicAt(35)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f m/s at 35 °C\n", warm.Longitudinal)

	_, err = material.ReadTable(strings.NewReader("name,class,longitudinal_m_s,source\nacrylic,plastic,2.73e3 m/s,shop record 14\n"))
	fmt.Println(err)
	// Output:
	// 2738 ± 4 m/s at 22 °C, and 3 published entries after it
	// 2707 m/s at 35 °C
	// material: table line 2: longitudinal_m_s "2.73e3 m/s": want a finite number above 0, or such a number±spread with a spread from 0 to below it
}

// Water warms up during a shift. The angle of an immersion set-up changes with it.
func ExampleWater() {
	steel := material.Isotropic{Density: 7700, Longitudinal: 5900, Transverse: 3230}
	fmt.Println("°C      m/s  kg/m³  for 45° T")
	for _, celsius := range []float64{5, 15, 25, 35} {
		water, err := material.Water(celsius)
		if err != nil {
			log.Fatal(err)
		}
		angle := material.Refract(math.Pi/4, steel.Transverse, water.Longitudinal)
		fmt.Printf("%2.0f   %.1f %6.1f     %.2f°\n", celsius, water.Longitudinal, water.Density,
			angle*180/math.Pi)
	}
	// Output:
	// °C      m/s  kg/m³  for 45° T
	//  5   1426.2 1000.0     18.19°
	// 15   1466.0  999.1     18.72°
	// 25   1496.7  997.0     19.13°
	// 35   1519.8  994.0     19.43°
}

// A water path weakens an echo; the loss depends on the frequency.
func ExampleAttenuation() {
	law, err := material.WaterAttenuation(20)
	if err != nil {
		log.Fatal(err)
	}
	const path = 2 * 0.040 // out and back, m
	for _, megahertz := range []float64{2, 5, 10, 15} {
		left := law.Amplitude(megahertz*1e6, path)
		fmt.Printf("%2.0f MHz: %.3f of the amplitude left, %.2f dB\n", megahertz, left,
			20*math.Log10(left))
	}
	// Output:
	//  2 MHz: 0.992 of the amplitude left, -0.07 dB
	//  5 MHz: 0.951 of the amplitude left, -0.44 dB
	// 10 MHz: 0.817 of the amplitude left, -1.76 dB
	// 15 MHz: 0.634 of the amplitude left, -3.96 dB
}
