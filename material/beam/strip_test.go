// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestStripFactor compares with the roots of sinc, an independent calculation with mpmath 1.2.1.
// The first row is the 0.44 for "−6 dB" of training notes (PCN phased-array notes).
func TestStripFactor(t *testing.T) {
	s := Strip{Width: 10e-3, Wavelength: 1e-3}
	for _, tt := range []struct {
		name  string
		level Level
		u     string
	}{
		{"half the echo", HalfPulseEcho, "0.442946470689"},
		{"half one-way", HalfOneWay, "0.603354564402"},
		{"-6 dB one-way", OneWay(-6), "0.602479834165"},
		{"-12 dB pulse-echo", PulseEcho(-12), "0.602479834165"},
		{"-10 dB one-way", OneWay(-10), "0.738026434624"},
		{"-20 dB pulse-echo", PulseEcho(-20), "0.738026434624"},
		{"-20 dB one-way", OneWay(-20), "0.907928623780"},
		{"zero", FirstZero, "1"},
	} {
		check.Printed(t, tt.name, s.factor(tt.level), tt.u)
		check.Within(t, tt.name+", pattern at its half angle", s.Directivity(s.HalfAngle(tt.level)),
			float64(tt.level), 1e-14)
	}
	check.Printed(t, "training notes", s.factor(HalfPulseEcho), "0.44")
	at := func(u float64) float64 { return decibels(s.Directivity(math.Asin(u / 10))) }
	check.Printed(t, "side lobe, dB", at(1.430296653), "-13.261459")
	if !(at(1.4303-0.01) < at(1.4303) && at(1.4303+0.01) < at(1.4303)) {
		t.Error("no side lobe at u = 1.4303")
	}
}

// TestStripFocalWidth compares the half-amplitude widths of the images of a focused aperture, in
// units of λz/D and in mm, with an independent calculation, mpmath 1.2.1.
func TestStripFocalWidth(t *testing.T) {
	unit := Strip{Width: 1, Wavelength: 1}
	check.Printed(t, "one-way", unit.FocalWidth(1, HalfOneWay), "1.206709129")
	check.Printed(t, "full matrix", unit.FocalWidth(1, HalfPulseEcho), "0.885892941")
	check.Printed(t, "diagonal of the matrix", unit.FocalWidth(1, HalfOneWay)/2, "0.603354564")
	// The first zero is at 1 in one pass and in the full matrix, and at 1/2 in the diagonal.
	check.Within(t, "first zero", unit.FocalWidth(1, FirstZero)/2, 1, 1e-14)
	for _, tt := range []struct {
		elements                       float64
		pitch, z, lambda               float64 // mm
		oneWay, fullMatrix, monostatic float64
	}{
		{64, 0.6, 30, 1.184, 1.116206, 0.819451, 0.558103},
		{32, 0.6, 30, 1.184, 2.232412, 1.638902, 1.116207},
		{128, 0.5, 50, 0.592, 0.558103, 0.409726, 0.279052},
	} {
		s := Strip{Width: tt.elements * tt.pitch * 1e-3, Wavelength: tt.lambda * 1e-3}
		what := fmt.Sprintf("%v elements", tt.elements)
		check.Within(t, what+", one-way", s.FocalWidth(tt.z*1e-3, HalfOneWay)*1e3, tt.oneWay,
			1.1e-6)
		check.Within(t, what+", full matrix", s.FocalWidth(tt.z*1e-3, HalfPulseEcho)*1e3,
			tt.fullMatrix, 1.1e-6)
		check.Within(t, what+", monostatic", s.FocalWidth(tt.z*1e-3, HalfOneWay)/2*1e3,
			tt.monostatic, 1.1e-6)
	}
	// For wide apertures 2·sin(atan(D/2z)) stands in place of D/z.
	for _, tt := range []struct {
		elements, z   float64
		paraxial, far float64
	}{
		{64, 30, 0.819, 0.973}, {32, 30, 1.639, 1.721}, {16, 30, 3.278, 3.320},
		{64, 60, 1.639, 1.721},
	} {
		s := Strip{Width: tt.elements * 0.6e-3, Wavelength: 1.184e-3}
		z := tt.z * 1e-3
		check.Within(t, "paraxial", s.FocalWidth(z, HalfPulseEcho)*1e3, tt.paraxial, 1.1e-3)
		check.Within(t, "wide", s.FocalWidth(math.Hypot(z, s.Width/2), HalfPulseEcho)*1e3, tt.far,
			1.1e-3)
	}
}

// TestStripFocalDepth compares the depth of focus in units of λ(F/W)² with an independent
// calculation, mpmath 1.2.1.
func TestStripFocalDepth(t *testing.T) {
	s := Strip{Width: 10e-3, Wavelength: 1e-3}
	const unit = 1e-3 * 9 // λ(F/W)² at F = 3W
	check.Printed(t, "half the echo", s.FocalDepth(30e-3, HalfPulseEcho)/unit, "6.9519")
	check.Printed(t, "half one-way", s.FocalDepth(30e-3, HalfOneWay)/unit, "9.6873")
	if got := s.FocalDepth(30e-3, 0.287); !(got > 0) {
		t.Errorf("depth at a level of 0.287: got %v, want a length", got)
	}
	for _, level := range []Level{0.28, 0, -1, 1, Level(math.NaN())} {
		if got := s.FocalDepth(30e-3, level); !math.IsNaN(got) {
			t.Errorf("depth at a level of %v: got %v, want NaN", level, got)
		}
	}
}

// TestRectangleNearField compares with a table after EN 12668-2, from memory.
func TestRectangleNearField(t *testing.T) {
	for _, tt := range []struct{ ratio, k float64 }{
		{1, 1.37}, {0.9, 1.25}, {0.8, 1.15}, {0.7, 1.09}, {0.6, 1.04}, {0.5, 1.01}, {0.4, 1.00},
		{0.3, 0.99}, {0.1, 0.99},
		{0.95, 1.31}, // half-way by a straight line
	} {
		want := tt.k * 20e-3 * 20e-3 / (4 * 1e-3)
		check.Within(t, fmt.Sprintf("ratio %v", tt.ratio),
			RectangleNearField(20e-3, tt.ratio*20e-3, 1e-3), want, 1e-14)
		check.Within(t, "sides exchanged", RectangleNearField(tt.ratio*20e-3, 20e-3, 1e-3), want,
			1e-14)
	}
}

func TestStripRanges(t *testing.T) {
	for _, s := range []Strip{
		{Width: 0, Wavelength: 1}, {Width: math.NaN(), Wavelength: 1},
		{Width: 1, Wavelength: math.Inf(1)},
	} {
		for i, got := range []float64{
			s.Directivity(0), s.HalfAngle(0.5), s.FocalWidth(1, 0.5), s.FocalDepth(1, 0.5),
		} {
			if !math.IsNaN(got) {
				t.Errorf("%+v, method %d: got %v, want NaN", s, i, got)
			}
		}
	}
	s := Strip{Width: 1, Wavelength: 1}
	if got := s.Directivity(-2); !math.IsNaN(got) {
		t.Errorf("beyond 90°: got %v, want NaN", got)
	}
	if got := s.Directivity(0); got != 1 {
		t.Errorf("on the normal: got %v, want 1", got)
	}
}

// TestGratingLobes compares with an independent calculation, mpmath 1.2.1.
func TestGratingLobes(t *testing.T) {
	for _, tt := range []struct {
		pitch, lambda, steer float64
		want                 []string
	}{
		{1.0, 1.184, 30, []string{"-43.15701"}},
		{1.5, 1.184, 0, []string{"-52.12325", "52.12325"}},
		{0.6, 0.651, 45, []string{"-22.20324"}},
		{0.5, 1.184, 60, nil},
		{0, 1, 0, nil}, {1, -1, 0, nil}, {1, 1, 100, nil},
		{1, 1e-300, 0, nil}, {1e7, 1, 0, nil}, // no endless loop
	} {
		got := slices.Collect(GratingLobes(tt.pitch*1e-3, tt.lambda*1e-3, radians(tt.steer)))
		if len(got) != len(tt.want) {
			t.Errorf("pitch %v, steer %v: got %v, want %v", tt.pitch, tt.steer, got, tt.want)
			continue
		}
		for i := range got {
			check.Printed(t, "lobe", degrees(got[i]), tt.want[i])
		}
	}
	for range GratingLobes(10, 1, 0) {
		break // an early end must not panic
	}
	// The lobes ascend, and the path difference of each is a whole number of wavelengths.
	all := slices.Collect(GratingLobes(7.3e-3, 1e-3, 0.4))
	if len(all) != 14 || !slices.IsSorted(all) {
		t.Errorf("got %d lobes, sorted %v; want 14, sorted", len(all), slices.IsSorted(all))
	}
	for _, a := range all {
		m := (math.Sin(a) - math.Sin(0.4)) * 7.3
		check.Within(t, "order", m, math.Round(m), 1e-12)
		if math.Round(m) == 0 {
			t.Errorf("the main beam at %v is among the lobes", a)
		}
	}
}

// TestMaxPitch compares the largest pitch without a grating lobe, in wavelengths, with 1/(1 + sin).
func TestMaxPitch(t *testing.T) {
	for steer, want := range map[float64]string{0: "1", 30: "0.6667", 45: "0.585786", 60: "0.535898", 70: "0.515546", 90: "0.5", -45: "0.585786"} {
		p := MaxPitch(1, radians(steer))
		check.Printed(t, fmt.Sprintf("%v°", steer), p, want)
		if lobes := slices.Collect(GratingLobes(p*(1-1e-9), 1, radians(steer))); len(lobes) != 0 {
			t.Errorf("%v°, just below: lobes at %v", steer, lobes)
		}
		if lobes := slices.Collect(GratingLobes(p*(1+1e-9), 1, radians(steer))); len(lobes) == 0 {
			t.Errorf("%v°, just above: no lobe", steer)
		}
	}
}
