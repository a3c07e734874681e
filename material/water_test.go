// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// A waterEquation is a published polynomial for the speed of sound in pure water, c = Σ k[i]·tⁱ in
// m/s with t in °C.
type waterEquation struct {
	name   string
	k      [6]float64
	source string
}

func (e waterEquation) speed(celsius float64) float64 { return polynomial(e.k, celsius) }

// slope returns the change of speed in m/s per K.
func (e waterEquation) slope(celsius float64) float64 {
	var derivative [6]float64
	for i := 1; i < len(e.k); i++ {
		derivative[i-1] = float64(i) * e.k[i]
	}
	return polynomial(derivative, celsius)
}

// waterEquations are the equation of Water and those that it is compared with. The first six hold
// from 0 °C to 95 °C and more.
var waterEquations = []waterEquation{
	{"Marczak", waterSpeed, "Marczak, J. Acoust. Soc. Am. 102 (1997) 2776; ITS-90"},
	{"Bilaniuk-Wong, 148 points",
		[6]float64{1402.38744, 5.03836171, -5.81172916e-2, 3.34638117e-4, -1.48259672e-6,
			3.16585020e-9},
		"Bilaniuk and Wong, J. Acoust. Soc. Am. 93 (1993) 1609, erratum 99 (1996) 3257; ITS-90"},
	{"Bilaniuk-Wong, 112 points",
		[6]float64{1402.38742, 5.03821344, -5.80539349e-2, 3.32000870e-4, -1.44537900e-6,
			2.99402365e-9},
		"Bilaniuk and Wong, J. Acoust. Soc. Am. 93 (1993) 1609, erratum 99 (1996) 3257"},
	{"Bilaniuk-Wong, 36 points",
		[6]float64{1402.38677, 5.03798765, -5.80980033e-2, 3.34296650e-4, -1.47936902e-6,
			3.14893508e-9},
		"Bilaniuk and Wong, J. Acoust. Soc. Am. 93 (1993) 1609, erratum 99 (1996) 3257"},
	{"Del Grosso-Mader",
		[6]float64{1402.38754, 5.03711129, -5.80852166e-2, 3.34198834e-4, -1.47800417e-6,
			3.14643091e-9},
		"from memory of Del Grosso and Mader, J. Acoust. Soc. Am. 52 (1972) 1442; IPTS-68, ±0.015 m/s"},
	{"Greenspan-Tschiegg",
		[6]float64{1402.736, 5.03358, -0.0579506, 3.31636e-4, -1.45262e-6, 3.0449e-9},
		"Greenspan and Tschiegg, J. Acoust. Soc. Am. 31 (1959) 75"},
	{"Lubbers-Graaff, 15 °C to 35 °C", [6]float64{1404.3, 4.7, -0.04},
		"Lubbers and Graaff, Ultrasound Med. Biol. 24 (1998) 1065; within 0.18 m/s"},
	{"Lubbers-Graaff, 10 °C to 40 °C", [6]float64{1405.03, 4.624, -0.0383},
		"Lubbers and Graaff, Ultrasound Med. Biol. 24 (1998) 1065; within 0.18 m/s"},
}

// TestWaterSpeed compares with an independent calculation from the published polynomials, mpmath
// 1.2.1. The rows at 50 °C and above show the difference of the mistyped copy of Marczak's
// coefficient k2 (1543.06512 m/s at 50 °C) from the published coefficient.
func TestWaterSpeed(t *testing.T) {
	for _, tt := range []struct {
		celsius float64
		want    [6]string
	}{
		{0, [6]string{"1402.38500", "1402.38744", "1402.38742", "1402.38677", "1402.38754", "1402.73600"}},
		{10, [6]string{"1447.28900", "1447.27946", "1447.28201", "1447.27666", "1447.26986", "1447.59415"}},
		{15, [6]string{"1465.95985", "1465.94323", "1465.94809", "1465.94028", "1465.93052", "1466.24886"}},
		{20, [6]string{"1482.37955", "1482.35778", "1482.36444", "1482.35507", "1482.34286", "1482.65777"}},
		{25, [6]string{"1496.72771", "1496.70367", "1496.71120", "1496.70147", "1496.68730", "1497.00049"}},
		{30, [6]string{"1509.16717", "1509.14398", "1509.15130", "1509.14244", "1509.12683", "1509.43940"}},
		{37, [6]string{"1523.65300", "1523.63558", "1523.64106", "1523.63506", "1523.61834", "1523.93115"}},
		{40, [6]string{"1528.89358", "1528.87982", "1528.88414", "1528.87972", "1528.86287", "1529.17603"}},
		{50, [6]string{"1542.56512", "1542.56516", "1542.56538", "1542.56621", "1542.55065", "1542.86566"}},
		{60, [6]string{"1550.98626", "1550.99604", "1550.99429", "1550.99728", "1550.98612", "1551.30378"}},
		{80, [6]string{"1554.48629", "1554.48712", "1554.49185", "1554.48192", "1554.49203", "1554.81441"}},
		{95, [6]string{"1547.16788", "1547.17192", "1547.17034", "1547.14904", "1547.18988", "1547.50240"}},
	} {
		for i, want := range tt.want {
			e := waterEquations[i]
			check.Printed(t, fmt.Sprintf("%s at %v °C", e.name, tt.celsius), e.speed(tt.celsius),
				want)
		}
		check.Printed(t, fmt.Sprintf("Water at %v °C", tt.celsius),
			check.Must(Water(tt.celsius)).Longitudinal, tt.want[0])
	}
}

// TestWaterSpeedPrinted compares with outputs published in the manual of the R package sonar.
func TestWaterSpeedPrinted(t *testing.T) {
	check.Printed(t, "Marczak at 20 °C", waterEquations[0].speed(20), "1482.38")
	check.Within(t, "Del Grosso and Mader at 25 °C, printed 1496.688", waterEquations[4].speed(25),
		1496.688, 0.001)
	// Norton and Karczub, Appendix 4, print 1483 m/s at 20 °C. They also print 1441 m/s at 13 °C,
	// which is 17.8 m/s below the polynomial and not used.
	check.Within(t, "at 20 °C, printed 1483", waterEquations[0].speed(20), 1483, 1)
	check.Printed(t, "at 13 °C", waterEquations[0].speed(13), "1458.77")
}

// TestWaterMaximumAndSlope compares the greatest speed, its temperature, and the slope at 20 °C
// with an independent calculation, mpmath 1.2.1.
func TestWaterMaximumAndSlope(t *testing.T) {
	for i, tt := range []struct {
		at               float64
		speed, slopeAt20 string
	}{
		{74.17397, "1555.14023", "3.071085"},
		{74.15149, "1555.14681", "3.070325"},
		{74.16341, "1555.14890", "3.070600"},
		{74.14035, "1555.14490", "3.070403"},
		{74.17220, "1555.14677", "3.069962"},
	} {
		e := waterEquations[i]
		check.Printed(t, e.name+", greatest speed", e.speed(tt.at), tt.speed)
		if below, above := e.slope(tt.at-1e-5), e.slope(tt.at+1e-5); !(below > 0 && above < 0) {
			t.Errorf("%s: slope %v just below and %v just above %v °C, want a maximum there",
				e.name, below, above, tt.at)
		}
		check.Printed(t, e.name+", slope at 20 °C", e.slope(20), tt.slopeAt20)
	}
}

// TestWaterEquationsAgree compares the equations with each other, and the water of Water with
// IAPWS-95 (Wagner and Pruss, J. Phys. Chem. Ref. Data 31, 2002, 387) at 101.325 kPa, calculated
// with the general-purpose steam-table library iapws 1.5.3.
func TestWaterEquationsAgree(t *testing.T) {
	for i := range 951 {
		celsius := float64(i) / 10
		reference := check.Must(Water(celsius)).Longitudinal
		at := func(e waterEquation) string { return fmt.Sprintf("%s at %v °C", e.name, celsius) }
		for _, e := range waterEquations[:5] {
			check.Within(t, at(e), e.speed(celsius), reference, 0.05)
		}
		check.Within(t, at(waterEquations[5]), waterEquations[5].speed(celsius)-reference, 0.3,
			0.06)
		// The tolerance is the stated 0.18 m/s and the 0.05 m/s above.
		if celsius >= 15 && celsius <= 35 {
			check.Within(t, at(waterEquations[6]), waterEquations[6].speed(celsius), reference,
				0.23)
		}
		if celsius >= 10 && celsius <= 40 {
			check.Within(t, at(waterEquations[7]), waterEquations[7].speed(celsius), reference,
				0.23)
		}
	}
	for _, tt := range []struct{ celsius, density, speed float64 }{
		{0.01, 999.8438, 1402.4330},
		{4, 999.9749, 1421.6351},
		{10, 999.7025, 1447.2722},
		{15, 999.1026, 1465.9295},
		{20, 998.2072, 1482.3462},
		{25, 997.0476, 1496.7014},
		{30, 995.6495, 1509.1538},
		{37, 993.3298, 1523.6582},
		{40, 992.2164, 1528.9045},
		{50, 988.0350, 1542.5773},
		{60, 983.1958, 1550.9735},
		{70, 977.7646, 1554.7472},
		{80, 971.7904, 1554.4302},
		{90, 965.3096, 1550.4517},
		{95, 961.8879, 1547.2001},
	} {
		w := check.Must(Water(tt.celsius))
		if !w.Fluid() {
			t.Fatalf("water at %v °C: %+v, want a fluid", tt.celsius, w)
		}
		check.Within(t, fmt.Sprintf("density at %v °C", tt.celsius), w.Density, tt.density, 0.015)
		check.Within(t, fmt.Sprintf("speed at %v °C", tt.celsius), w.Longitudinal, tt.speed, 0.06)
	}
	// Norton and Karczub, Appendix 4, at 20 °C.
	check.Printed(t, "density at 20 °C", check.Must(Water(20)).Density, "998")
}

func TestWaterRanges(t *testing.T) {
	for _, celsius := range []float64{0, 95} {
		check.Must(Water(celsius))
		check.Must(WaterAttenuation(celsius))
	}
	for _, celsius := range []float64{math.Nextafter(0, -1), math.Nextafter(95, 100), math.NaN(), math.Inf(1), math.Inf(-1)} {
		_, err := Water(celsius)
		check.Error(t, err, "material: water temperature", "want 0 °C to 95 °C")
		_, err = WaterAttenuation(celsius)
		check.Error(t, err, "material: water temperature", "want 0 °C to 95 °C")
	}
}
