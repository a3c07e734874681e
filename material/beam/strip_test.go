// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/material/beam"
)

// Roots of sinc: independent calculation, mpmath 1.2.1. The 0.44 of training
// notes (PCN phased-array notes, for "−6 dB") is the first row.
func TestStripFactor(t *testing.T) {
	s := beam.Strip{Width: 10e-3, Wavelength: 1e-3}
	for _, tt := range []struct {
		name  string
		level beam.Level
		u     string
	}{
		{"half the echo", beam.HalfPulseEcho, "0.442946470689"},
		{"half one-way", beam.HalfOneWay, "0.603354564402"},
		{"-6 dB one-way", beam.OneWay(-6), "0.602479834165"},
		{"-12 dB pulse-echo", beam.PulseEcho(-12), "0.602479834165"},
		{"-10 dB one-way", beam.OneWay(-10), "0.738026434624"},
		{"-20 dB pulse-echo", beam.PulseEcho(-20), "0.738026434624"},
		{"-20 dB one-way", beam.OneWay(-20), "0.907928623780"},
		{"zero", beam.FirstZero, "1"},
	} {
		sameAsPrinted(t, tt.name, s.Factor(tt.level), tt.u)
		sameWithin(t, tt.name+", pattern at its half angle", s.Directivity(s.HalfAngle(tt.level)), float64(tt.level), 1e-14)
	}
	sameAsPrinted(t, "training notes", s.Factor(beam.HalfPulseEcho), "0.44")
	at := func(u float64) float64 { return decibels(s.Directivity(math.Asin(u / 10))) }
	sameAsPrinted(t, "side lobe, dB", at(1.430296653), "-13.261459")
	if !(at(1.4303-0.01) < at(1.4303) && at(1.4303+0.01) < at(1.4303)) {
		t.Error("no side lobe at u = 1.4303")
	}
}

// Half-amplitude widths of the images of a focused aperture, in λz/D and in mm:
// independent calculation, mpmath 1.2.1.
func TestStripFocalWidth(t *testing.T) {
	unit := beam.Strip{Width: 1, Wavelength: 1}
	sameAsPrinted(t, "one-way", unit.FocalWidth(1, beam.HalfOneWay), "1.206709129")
	sameAsPrinted(t, "full matrix", unit.FocalWidth(1, beam.HalfPulseEcho), "0.885892941")
	sameAsPrinted(t, "diagonal of the matrix", unit.FocalWidth(1, beam.HalfOneWay)/2, "0.603354564")
	// First zeros: 1, 1 and, from element to element, 1/2.
	sameWithin(t, "first zero", unit.FocalWidth(1, beam.FirstZero)/2, 1, 1e-14)
	for _, tt := range []struct {
		elements                       float64
		pitch, z, lambda               float64 // mm
		oneWay, fullMatrix, monostatic float64
	}{
		{64, 0.6, 30, 1.184, 1.116206, 0.819451, 0.558103},
		{32, 0.6, 30, 1.184, 2.232412, 1.638902, 1.116207},
		{128, 0.5, 50, 0.592, 0.558103, 0.409726, 0.279052},
	} {
		s := beam.Strip{Width: tt.elements * tt.pitch * 1e-3, Wavelength: tt.lambda * 1e-3}
		what := fmt.Sprintf("%v elements", tt.elements)
		sameWithin(t, what+", one-way", s.FocalWidth(tt.z*1e-3, beam.HalfOneWay)*1e3, tt.oneWay, 1.1e-6)
		sameWithin(t, what+", full matrix", s.FocalWidth(tt.z*1e-3, beam.HalfPulseEcho)*1e3, tt.fullMatrix, 1.1e-6)
		sameWithin(t, what+", monostatic", s.FocalWidth(tt.z*1e-3, beam.HalfOneWay)/2*1e3, tt.monostatic, 1.1e-6)
	}
	// Beyond the paraxial limit, D/z gives way to 2·sin(atan(D/2z)).
	for _, tt := range []struct {
		elements, z   float64
		paraxial, far float64
	}{
		{64, 30, 0.819, 0.973}, {32, 30, 1.639, 1.721}, {16, 30, 3.278, 3.320}, {64, 60, 1.639, 1.721},
	} {
		s := beam.Strip{Width: tt.elements * 0.6e-3, Wavelength: 1.184e-3}
		z := tt.z * 1e-3
		sameWithin(t, "paraxial", s.FocalWidth(z, beam.HalfPulseEcho)*1e3, tt.paraxial, 1.1e-3)
		sameWithin(t, "wide", s.FocalWidth(math.Hypot(z, s.Width/2), beam.HalfPulseEcho)*1e3, tt.far, 1.1e-3)
	}
}

// Total depth of focus in units of λ(F/W)²: independent calculation, mpmath 1.2.1.
func TestStripFocalDepth(t *testing.T) {
	s := beam.Strip{Width: 10e-3, Wavelength: 1e-3}
	const unit = 1e-3 * 9 // λ(F/W)² at F = 3W
	sameAsPrinted(t, "half the echo", s.FocalDepth(30e-3, beam.HalfPulseEcho)/unit, "6.9519")
	sameAsPrinted(t, "half one-way", s.FocalDepth(30e-3, beam.HalfOneWay)/unit, "9.6873")
	if got := s.FocalDepth(30e-3, 0.287); !(got > 0) {
		t.Errorf("depth at a level of 0.287: got %v, want a length", got)
	}
	for _, level := range []beam.Level{0.28, 0, -1, 1, beam.Level(math.NaN())} {
		if got := s.FocalDepth(30e-3, level); !math.IsNaN(got) {
			t.Errorf("depth at a level of %v: got %v, want NaN", level, got)
		}
	}
}

// From memory of a table after EN 12668-2.
func TestRectangleNearField(t *testing.T) {
	for _, tt := range []struct{ ratio, k float64 }{
		{1, 1.37}, {0.9, 1.25}, {0.8, 1.15}, {0.7, 1.09}, {0.6, 1.04}, {0.5, 1.01}, {0.4, 1.00}, {0.3, 0.99}, {0.1, 0.99},
		{0.95, 1.31}, // half-way by a straight line
	} {
		want := tt.k * 20e-3 * 20e-3 / (4 * 1e-3)
		sameWithin(t, fmt.Sprintf("ratio %v", tt.ratio), beam.RectangleNearField(20e-3, tt.ratio*20e-3, 1e-3), want, 1e-14)
		sameWithin(t, "sides exchanged", beam.RectangleNearField(tt.ratio*20e-3, 20e-3, 1e-3), want, 1e-14)
	}
}

func TestStripValidate(t *testing.T) {
	for _, tt := range []struct {
		strip beam.Strip
		want  string
	}{
		{beam.Strip{Width: 0, Wavelength: 1}, "beam: width 0 m"},
		{beam.Strip{Width: math.NaN(), Wavelength: 1}, "beam: width NaN m"},
		{beam.Strip{Width: 1, Wavelength: math.Inf(1)}, "beam: wavelength +Inf m"},
	} {
		if err := tt.strip.Validate(); err == nil || !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("%+v: error %v, want %q", tt.strip, err, tt.want)
		}
		for i, got := range []float64{
			tt.strip.Directivity(0), tt.strip.Factor(0.5), tt.strip.HalfAngle(0.5), tt.strip.FocalWidth(1, 0.5), tt.strip.FocalDepth(1, 0.5),
		} {
			if !math.IsNaN(got) {
				t.Errorf("%+v, method %d: got %v, want NaN", tt.strip, i, got)
			}
		}
	}
	s := beam.Strip{Width: 1, Wavelength: 1}
	if got := s.Directivity(-2); !math.IsNaN(got) {
		t.Errorf("beyond 90°: got %v, want NaN", got)
	}
	if got := s.Directivity(0); got != 1 {
		t.Errorf("on the normal: got %v, want 1", got)
	}
}

// Grating lobes: independent calculation, mpmath 1.2.1.
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
		got := slices.Collect(beam.GratingLobes(tt.pitch*1e-3, tt.lambda*1e-3, radians(tt.steer)))
		if len(got) != len(tt.want) {
			t.Errorf("pitch %v, steer %v: got %v, want %v", tt.pitch, tt.steer, got, tt.want)
			continue
		}
		for i := range got {
			sameAsPrinted(t, "lobe", degrees(got[i]), tt.want[i])
		}
	}
	for range beam.GratingLobes(10, 1, 0) {
		break // an early end must not panic
	}
	// Rising, each with the path difference of a whole number of waves.
	all := slices.Collect(beam.GratingLobes(7.3e-3, 1e-3, 0.4))
	if len(all) != 14 || !slices.IsSorted(all) {
		t.Errorf("got %d lobes, sorted %v; want 14, sorted", len(all), slices.IsSorted(all))
	}
	for _, a := range all {
		m := (math.Sin(a) - math.Sin(0.4)) * 7.3
		sameWithin(t, "order", m, math.Round(m), 1e-12)
		if math.Round(m) == 0 {
			t.Errorf("the main beam at %v is among the lobes", a)
		}
	}
}

// The greatest pitch without a grating lobe, in wavelengths: identity 1/(1+sin).
func TestMaxPitch(t *testing.T) {
	for steer, want := range map[float64]string{0: "1", 30: "0.6667", 45: "0.585786", 60: "0.535898", 70: "0.515546", 90: "0.5", -45: "0.585786"} {
		p := beam.MaxPitch(1, radians(steer))
		sameAsPrinted(t, fmt.Sprintf("%v°", steer), p, want)
		if lobes := slices.Collect(beam.GratingLobes(p*(1-1e-9), 1, radians(steer))); len(lobes) != 0 {
			t.Errorf("%v°, just below: lobes at %v", steer, lobes)
		}
		if lobes := slices.Collect(beam.GratingLobes(p*(1+1e-9), 1, radians(steer))); len(lobes) == 0 {
			t.Errorf("%v°, just above: no lobe", steer)
		}
	}
}
