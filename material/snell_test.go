// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestRefractPrinted compares with printed worked examples, and with more digits of an independent
// calculation, mpmath 1.2.1.
func TestRefractPrinted(t *testing.T) {
	for _, tt := range []struct {
		incidence, from, to float64
		printed, exact      string
		source              string
	}{
		{20, 2730, 5960, "48.3", "48.303717", "teaching slides on Snell's law"},
		{15, 2730, 5960, "34.4", "34.405128", "teaching slides on Snell's law"},
		{37.9, 2700, 3250, "47.7", "47.681808", "teaching slides on Snell's law"},
		{10, 2700, 5920, "", "22.379509", "teaching slides on Snell's law print 22.3, cut off"},
	} {
		got := degrees(Refract(radians(tt.incidence), tt.from, tt.to))
		if tt.printed != "" {
			check.Printed(t, tt.source, got, tt.printed)
		}
		check.Printed(t, tt.source, got, tt.exact)
	}
	// Krautkrämer and Krautkrämer, Ultrasonic Testing of Materials, 4th ed.,
	// 1990, chapter on metallic materials: 1 % of the transverse speed turns a
	// nominal 70° beam by 1.5°.
	const wedge, steel = 2730.0, 3255.0
	incidence := Refract(radians(70), steel, wedge)
	up := degrees(Refract(incidence, wedge, 1.01*steel)) - 70
	down := degrees(Refract(incidence, wedge, 0.99*steel)) - 70
	check.Within(t, "mean turn for 1 %, printed 1.5°", (up-down)/2, 1.5, 0.1)
	check.Printed(t, "turn for +1 %", up, "1.6388")
	check.Printed(t, "turn for -1 %", down, "-1.5190")
}

// TestCriticalAnglePrinted compares with check values of the test suite of the geophysics library
// bruges (reflection_test.py, commit 905fe4f).
func TestCriticalAnglePrinted(t *testing.T) {
	check.Printed(t, "2300 to 2400", degrees(CriticalAngle(2300, 2400)), "73.40215786")
	check.Printed(t, "1500 to L 3200", degrees(CriticalAngle(1500, 3200)), "27.9531869")
	check.Printed(t, "1500 to T 1600", degrees(CriticalAngle(1500, 1600)), "69.6358652")
}

// TestCriticalAngles compares with an independent calculation, mpmath 1.2.1. The angles 27.6° and
// 57.7° of the textbooks belong to 2730 m/s and to 5900 and 3230 m/s.
func TestCriticalAngles(t *testing.T) {
	solids := []Isotropic{
		{Density: 7850, Longitudinal: 5920, Transverse: 3255},
		{Density: 7700, Longitudinal: 5900, Transverse: 3230},
		{Density: 7800, Longitudinal: 5940, Transverse: 3220},
		{Density: 7910, Longitudinal: 5790, Transverse: 3100},
		{Density: 2700, Longitudinal: 6300, Transverse: 3130},
	}
	for _, tt := range []struct {
		from float64
		want [5][2]string
	}{
		{2730, [5][2]string{{"27.461253", "57.004115"}, {"27.562238", "57.693503"}, {"27.361039", "57.976004"}, {"28.131877", "61.720287"}, {"25.679289", "60.715833"}}},
		{2670, [5][2]string{{"26.808729", "55.112482"}, {"26.906917", "55.753628"}, {"26.711285", "56.015882"}, {"27.460687", "59.461770"}, {"25.075333", "58.543339"}}},
		{2700, [5][2]string{{"27.134514", "56.046701"}, {"27.234095", "56.711059"}, {"27.035692", "56.983040"}, {"27.795764", "60.571293"}, {"25.376934", "59.612020"}}},
		{2330, [5][2]string{{"23.177509", "45.710590"}, {"23.260689", "46.167063"}, {"23.094941", "46.352715"}, {"23.729424", "48.730286"}, {"21.705828", "48.108357"}}},
		{2440, [5][2]string{{"24.340731", "48.557123"}, {"24.428623", "49.061903"}, {"24.253491", "49.267469"}, {"24.924033", "51.915022"}, {"22.786700", "51.219641"}}},
		{1480, [5][2]string{{"14.477512", "27.044675"}, {"14.527666", "27.271297"}, {"14.427707", "27.363062"}, {"14.809919", "28.516991"}, {"13.586945", "28.219030"}}},
		{1482.37955, [5][2]string{{"14.501299", "27.091713"}, {"14.551539", "27.318796"}, {"14.451409", "27.410748"}, {"14.834276", "28.567056"}, {"13.609210", "28.268475"}}},
	} {
		for i, solid := range solids {
			for j, speed := range []float64{solid.Longitudinal, solid.Transverse} {
				what := fmt.Sprintf("%v m/s to %v m/s", tt.from, speed)
				check.Printed(t, what, degrees(CriticalAngle(tt.from, speed)), tt.want[i][j])
			}
		}
	}
	check.Printed(t, "first of the textbooks", degrees(CriticalAngle(2730, 5900)), "27.6")
	check.Printed(t, "second of the textbooks", degrees(CriticalAngle(2730, 3230)), "57.7")
}

// TestWedgeAngleForBeamAngle compares the wedge angle for a wanted beam angle with an independent
// calculation, mpmath 1.2.1.
func TestWedgeAngleForBeamAngle(t *testing.T) {
	for _, tt := range []struct {
		wedge, part float64
		want        map[float64]string
	}{
		{2730, 3255, map[float64]string{35: "28.75492", 40: "32.62322", 45: "36.37427", 50: "39.97766", 55: "43.39552", 60: "46.58076", 65: "49.47558", 70: "52.01103"}},
		{2730, 3230, map[float64]string{35: "28.99855", 40: "32.90754", 45: "36.70160", 50: "40.35050", 55: "43.81629", 60: "47.05144", 65: "49.99715", 70: "52.58253"}},
		{2330, 3255, map[float64]string{35: "24.24118", 40: "27.39494", 45: "30.40855", 50: "33.25398", 55: "35.89961", 60: "38.31028", 65: "40.44779", 70: "42.27212"}},
		{2330, 3240, map[float64]string{35: "24.36068", 40: "27.53249", 45: "30.56435", 50: "33.42809", 55: "36.09186", 60: "38.52015", 65: "40.67431", 70: "42.51371"}},
		{1482.37955, 3255, map[float64]string{35: "15.14223", 40: "17.02182", 45: "18.78560", 50: "20.41815", 55: "21.90415", 60: "23.22868", 65: "24.37753", 70: "25.33761"}},
		{2730, 5920, map[float64]string{10: "4.593027", 20: "9.074705", 30: "13.33089", 45: "19.03110", 60: "23.53858"}},
		{2330, 5920, map[float64]string{45: "16.15900", 60: "19.92874"}},
		{1482.37955, 5920, map[float64]string{45: "10.19861"}},
	} {
		for beam, want := range tt.want {
			got := Refract(radians(beam), tt.part, tt.wedge)
			check.Printed(t, fmt.Sprintf("%v m/s for %v° at %v m/s", tt.wedge, beam, tt.part),
				degrees(got), want)
		}
	}
}

// TestRefractProperties checks that Snell's law is odd and is its own inverse, and that it ends at
// the critical angle.
func TestRefractProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 2))
	answers := 0
	for range 5000 {
		from, to := 300+9000*rng.Float64(), 300+9000*rng.Float64()
		angle := (rng.Float64() - 0.5) * math.Pi
		out := Refract(angle, from, to)
		critical := CriticalAngle(from, to)
		if beyond := math.Abs(angle) > critical; math.IsNaN(out) != beyond {
			t.Fatalf("%v rad from %v to %v m/s: got %v, critical angle %v",
				angle, from, to, out, critical)
		}
		if math.IsNaN(out) {
			continue
		}
		answers++
		check.Within(t, "Snell's law", math.Sin(out)/to, math.Sin(angle)/from, 1e-15/to)
		// Near grazing incidence the error of the angle is the square root of the rounding.
		check.Within(t, "back again", Refract(out, to, from), angle,
			1e-15/math.Cos(angle)+1e-15/math.Cos(out))
		if got := Refract(-angle, from, to); got != -out {
			t.Fatalf("Refract(%v) = %v, but %v for the angle reversed", angle, out, got)
		}
	}
	if answers < 1000 {
		t.Errorf("only %d of 5000 cases had an answer", answers)
	}
}

func TestSnellWithoutAnswer(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, args := range [][3]float64{
		{nan, 1, 1}, {inf, 1, 1}, {1.6, 1, 1}, {-1.6, 1, 1},
		{0.1, 0, 1}, {0.1, 1, 0}, {0.1, -1, 1}, {0.1, 1, inf}, {0.1, inf, 1}, {0.1, nan, 1},
		{0.1, 1, nan},
	} {
		if got := Refract(args[0], args[1], args[2]); !math.IsNaN(got) {
			t.Errorf("Refract%v = %v, want NaN", args, got)
		}
	}
	for _, args := range [][2]float64{{2, 1}, {0, 1}, {1, 0}, {-1, 1}, {1, inf}, {nan, 1}, {1, nan}} {
		if got := CriticalAngle(args[0], args[1]); !math.IsNaN(got) {
			t.Errorf("CriticalAngle%v = %v, want NaN", args, got)
		}
	}
	if got := CriticalAngle(3, 3); got != math.Pi/2 {
		t.Errorf("CriticalAngle(3, 3) = %v, want π/2", got)
	}
}
