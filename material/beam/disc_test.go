// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"fmt"
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestDiscFactor compares with the roots of 2·J1(x)/x, an independent calculation with mpmath
// 1.2.1.
func TestDiscFactor(t *testing.T) {
	d := Disc{Diameter: 10e-3, Wavelength: 1e-3}
	for _, tt := range []struct {
		name  string
		level Level
		x, k  string
	}{
		{"half the echo", HalfPulseEcho, "1.61633994831", "0.514496985"},
		{"-3 dB one-way", OneWay(-3), "1.61374119637", "0.5136697765"},
		{"-6 dB pulse-echo", PulseEcho(-6), "1.61374119637", "0.5136697765"},
		{"half one-way", HalfOneWay, "2.21508936772", "0.7050848445"},
		{"-6 dB one-way", OneWay(-6), "2.21178544505", "0.7040331733"},
		{"-12 dB pulse-echo", PulseEcho(-12), "2.21178544505", "0.7040331733"},
		{"-10 dB one-way", OneWay(-10), "2.73137886568", "0.8694248959"},
		{"-20 dB pulse-echo", PulseEcho(-20), "2.73137886568", "0.8694248959"},
		{"-12 dB one-way", OneWay(-12), "2.92325612215", "0.9305013235"},
		{"-24 dB pulse-echo", PulseEcho(-24), "2.92325612215", "0.9305013235"},
		{"-20 dB one-way", OneWay(-20), "3.41973900813", "1.088536734"},
		{"-40 dB pulse-echo", PulseEcho(-40), "3.41973900813", "1.088536734"},
		{"zero", FirstZero, "3.83170597021", "1.219669891"},
	} {
		k := d.factor(tt.level)
		check.Printed(t, tt.name+", x", k*math.Pi, tt.x)
		check.Printed(t, tt.name+", k", k, tt.k)
		check.Within(t, tt.name+", pattern at its half angle", d.Directivity(d.HalfAngle(tt.level)),
			float64(tt.level), 1e-14)
	}
	// Training notes print 0.514 for −6 dB (PCN phased-array notes) and 0.87 for "k20". Both are
	// for pulse-echo. The "1.08" for −20 dB is for one pass, cut to three digits.
	check.Printed(t, "0.514", d.factor(HalfPulseEcho), "0.514")
	check.Printed(t, "0.87", d.factor(PulseEcho(-20)), "0.87")
	check.Within(t, "1.08", d.factor(OneWay(-20)), 1.08, 0.01)
	check.Printed(t, "1.22", d.factor(FirstZero), "1.22")
	// The diameter of a spherical focus is 2k·λF/D. The value "1.02" circulates as a rounding.
	check.Printed(t, "focal diameter", d.FocalWidth(10e-3, HalfPulseEcho)/1e-3, "1.029")
}

// TestDiscSideLobes compares the first side lobe with an independent calculation, mpmath 1.2.1.
func TestDiscSideLobes(t *testing.T) {
	d := Disc{Diameter: 10e-3, Wavelength: 1e-3}
	at := func(x float64) float64 {
		return decibels(d.Directivity(math.Asin(x * d.Wavelength / (math.Pi * d.Diameter))))
	}
	const lobe = 5.1356223
	check.Printed(t, "side lobe, dB", at(lobe), "-17.57015")
	check.Printed(t, "pulse-echo, dB", 2*at(lobe), "-35.14")
	if !(at(lobe-0.01) < at(lobe) && at(lobe+0.01) < at(lobe)) {
		t.Errorf("no maximum at x = %v", lobe)
	}
}

// TestDiscNearFieldAndSpread compares near fields and half angles with an independent calculation,
// mpmath 1.2.1. A collection of NDT formulas prints the first rows: N 16.892 mm and, for the zero
// at 1.22·λ/D, 10.40°, 21.17° and 5.18°.
func TestDiscNearFieldAndSpread(t *testing.T) {
	for _, tt := range []struct {
		diameter, megahertz, speed float64 // mm, MHz, mm/µs
		lambda, near, last         string
		half                       string  // degrees
		zero                       float64 // degrees
	}{
		{10, 4, 5.92, "1.48", "16.891892", "", "", 10.39953},
		{10, 5, 5.92, "1.184", "21.114865", "20.818865", "3.492417", 8.303053},
		{24, 2, 5.92, "2.96", "48.648649", "47.908649", "3.638127", 8.651613},
		{12.7, 5, 5.9, "1.18", "34.171610", "33.876610", "2.739992", 6.506946},
		{20, 2, 3.255, "1.6275", "61.443932", "61.037057", "2.399515", 5.696021},
	} {
		lambda := tt.speed / tt.megahertz
		d := Disc{Diameter: tt.diameter * 1e-3, Wavelength: lambda * 1e-3}
		what := fmt.Sprintf("%v mm, %v MHz", tt.diameter, tt.megahertz)
		check.Printed(t, what+", wavelength", lambda, tt.lambda)
		check.Printed(t, what+", near field", d.NearField()*1e3, tt.near)
		// The calculation used the factor 1.21967.
		check.Within(t, what+", first zero", degrees(d.HalfAngle(FirstZero)), tt.zero, 5e-6)
		if tt.last == "" {
			continue
		}
		check.Printed(t, what+", last maximum", lastMaximum(d)*1e3, tt.last)
		check.Printed(t, what+", half the echo", degrees(d.HalfAngle(HalfPulseEcho)), tt.half)
	}
	for megahertz, printed := range map[float64]float64{2: 21.17, 4: 10.40, 8: 5.18} {
		d := Disc{Diameter: 10e-3, Wavelength: 5.92e-3 / megahertz}
		check.Within(t, "printed angle of the zero", degrees(d.HalfAngle(FirstZero)), printed,
			0.012)
	}
	d := Disc{Diameter: 10e-3, Wavelength: 1.48e-3}
	check.Printed(t, "printed near field", d.NearField()*1e3, "16.892")
}

// TestDiscLastMaximum searches the last maximum on the axis and compares its distance with the
// exact formula (D² − λ²)/(4λ) and with the near-field length.
func TestDiscLastMaximum(t *testing.T) {
	d := Disc{Diameter: 20e-3, Wavelength: 0.5e-3}
	z := 3 * d.NearField()
	step := z / 1e4
	for d.Axial(z-step) > d.Axial(z) {
		z -= step
	}
	check.Within(t, "last maximum over near field", z/d.NearField(), 1, 0.01)
	check.Within(t, "exact last maximum", z, lastMaximum(d), 2*step)
	check.Within(t, "pressure there", d.Axial(lastMaximum(d)), 2, 1e-12)
}

// lastMaximum returns the exact distance in m of the last maximum on the axis.
func lastMaximum(d Disc) float64 {
	return (d.Diameter - d.Wavelength) * (d.Diameter + d.Wavelength) / (4 * d.Wavelength)
}

// TestDiscAxial compares the pressure far from the face with the pressure of the volume flow, and
// checks the face of a disc with an even number of zones.
func TestDiscAxial(t *testing.T) {
	d := Disc{Diameter: 10e-3, Wavelength: 1e-3}
	z := 1e4 * d.Diameter
	flow := math.Pi * d.Diameter * d.Diameter / 4
	check.Within(t, "far field", d.Axial(z)*z*d.Wavelength/flow, 1, 1e-6)
	check.Within(t, "on the face, an even number of zones", d.Axial(0), 0, 1e-13)
}

// TestDiscFocalDepth compares the depth of focus in units of λ(F/D)² with an independent
// calculation, mpmath 1.2.1. Textbooks print 7.1.
func TestDiscFocalDepth(t *testing.T) {
	d := Disc{Diameter: 10e-3, Wavelength: 1e-3}
	const unit = 1e-3 * 4 // λ(F/D)² at F = 2D
	check.Printed(t, "half the echo", d.FocalDepth(20e-3, HalfPulseEcho)/unit, "7.0871")
	check.Printed(t, "textbook", d.FocalDepth(20e-3, HalfPulseEcho)/unit, "7.1")
	check.Printed(t, "half one-way", d.FocalDepth(20e-3, HalfOneWay)/unit, "9.6537")
	// The amplitude around the focus is |sin(φ/2)|/(φ/2). It is zero at φ = 2π, where the depth is
	// 16·λ(F/D)². Near the zero the depth is 16·(1 − level) to first order.
	for _, level := range []Level{0, 1e-6, 1e-4, 3e-3, 1e-2} {
		check.Within(t, fmt.Sprintf("level %v", level),
			d.FocalDepth(20e-3, level)/unit/(16*(1-float64(level))), 1, 2e-4)
	}
}

// TestDiscFocalDepthRings compares the depth of focus with Rayleigh's integral over the focused
// disc, a sum over thin rings: at both ends of the depth the sum has fallen to the level.
func TestDiscFocalDepthRings(t *testing.T) {
	d := Disc{Diameter: 10e-3, Wavelength: 1e-3}
	for _, level := range []Level{0.9, HalfPulseEcho, HalfOneWay, 0.2, 0.12} {
		const unit = 1e-3 * 4 // λ(F/D)² at F = 2D
		phase := math.Pi / 8 * d.FocalDepth(20e-3, level) / unit
		const rings = 20000
		var re, im float64
		for i := range rings {
			u := (float64(i) + 0.5) / rings // r²/a²
			re += math.Cos(phase*u) / rings
			im += math.Sin(phase*u) / rings
		}
		check.Within(t, fmt.Sprintf("level %.2f", level), math.Hypot(re, im), float64(level), 1e-6)
	}
}

func TestDiscRanges(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, d := range []Disc{
		{Diameter: -1, Wavelength: 1}, {Diameter: inf, Wavelength: 1}, {Diameter: 1},
		{Diameter: 1, Wavelength: nan},
	} {
		for i, got := range []float64{
			d.NearField(), d.Axial(1), d.Directivity(0.1),
			d.HalfAngle(0.5), d.FocalWidth(1, 0.5), d.FocalDepth(1, 0.5),
		} {
			if !math.IsNaN(got) {
				t.Errorf("%+v, method %d: got %v, want NaN", d, i, got)
			}
		}
	}
	good := Disc{Diameter: 1, Wavelength: 0.1}
	for name, got := range map[string]float64{
		"axial behind":          good.Axial(-1),
		"axial at infinity":     good.Axial(inf),
		"angle above 90°":       good.Directivity(1.6),
		"angle NaN":             good.Directivity(nan),
		"level 1":               good.HalfAngle(1),
		"level below 0":         good.HalfAngle(-0.1),
		"level NaN":             good.HalfAngle(Level(nan)),
		"level of +3 dB":        good.HalfAngle(OneWay(3)),
		"no such angle":         Disc{Diameter: 1, Wavelength: 1}.HalfAngle(FirstZero),
		"focus at 0":            good.FocalWidth(0, 0.5),
		"focus NaN":             good.FocalDepth(nan, 0.5),
		"depth at level 1":      good.FocalDepth(1, 1),
		"grating pitch":         MaxPitch(0, 0.1),
		"grating steer":         MaxPitch(1, 2),
		"rectangle":             RectangleNearField(0, 1, 1),
		"rectangle, wavelength": RectangleNearField(1, 1, inf),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s: got %v, want NaN", name, got)
		}
	}
	if got := good.Directivity(0); got != 1 {
		t.Errorf("on the axis: got %v, want 1", got)
	}
}
