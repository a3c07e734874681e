// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestWaterAttenuation compares α/f² of water, in 1e-15 Np·s²/m, with measurements. The
// measurements differ; the tolerance is the difference of the sources from each other.
func TestWaterAttenuation(t *testing.T) {
	for _, tt := range []struct {
		celsius, want, tolerance float64
		source                   string
	}{
		{20, 25.3, 0.01, "from memory of Pinkerton, 1949"},
		{20, 2.17e-3 * 1e2 / 1e12 / DecibelsPerNeper * 1e15, 0.02,
			"2.17e-3 dB/cm/MHz², from memory of Szabo, Diagnostic Ultrasound Imaging"},
		{0, 137e-17 / 2 * 1e2 * 1e15, 0.22, "2α/f² = 137e-17 s²/cm, measured 1946"},
		{4, 101e-17 / 2 * 1e2 * 1e15, 0.22, "2α/f² = 101e-17 s²/cm, measured 1946"},
		{33, 40e-17 / 2 * 1e2 * 1e15, 0.22, "2α/f² = 40e-17 s²/cm, measured 1946"},
	} {
		law := check.Must(WaterAttenuation(tt.celsius))
		for _, f := range []float64{1e5, 5e6, 5e7} {
			check.Within(t, tt.source, law.Nepers(f)/(f*f)*1e15, tt.want, tt.tolerance*tt.want)
		}
	}
	// Another measurement from 7 MHz to 50 MHz states no temperature: 2α/f² = 43.1e-17 s²/cm. The
	// law has that value between 20 °C and 30 °C.
	cold := check.Must(WaterAttenuation(20))
	warm := check.Must(WaterAttenuation(30))
	if a := 21.55e-15 * 1e14; !(warm.Nepers(1e7) < a && a < cold.Nepers(1e7)) {
		t.Errorf("at 10 MHz: %v Np/m at 20 °C, %v at 30 °C, want %v between",
			cold.Nepers(1e7), warm.Nepers(1e7), a)
	}
	// The two branches meet, and the attenuation falls with temperature.
	above := check.Must(WaterAttenuation(math.Nextafter(20, 21)))
	check.Within(t, "branches at 20 °C", above.Nepers(1e6)/cold.Nepers(1e6), 1, 0.002)
	last := math.Inf(1)
	for celsius := range 96 {
		law := check.Must(WaterAttenuation(float64(celsius)))
		if a := law.Nepers(1e6); !(a > 0 && a < last) {
			t.Errorf("at %d °C: %v Np/m, want a value above 0 and below %v", celsius, a, last)
		} else {
			last = a
		}
	}
}

// TestAttenuationUnits compares with an independent calculation, mpmath 1.2.1. 25.3e-15 Np·s²/m is
// 2.1975e-3 dB/cm/MHz². For 40 mm of water, out and back at 5 MHz with 25e-15, the loss is 0.434
// dB.
func TestAttenuationUnits(t *testing.T) {
	law := Attenuation{{Alpha: 25.3e-15 * 1e12, Frequency: 1e6, Exponent: 2}}
	check.Printed(t, "dB/cm at 1 MHz, in 1e-3", law.Decibels(1e6)/100*1e3, "2.1975")
	law = Attenuation{{Alpha: 25e-15 * 1e12, Frequency: 1e6, Exponent: 2}}
	check.Printed(t, "dB/cm at 5 MHz", law.Decibels(5e6)/100, "0.0543")
	check.Printed(t, "dB over 80 mm", -20*math.Log10(law.Amplitude(5e6, 0.08)), "0.434")
	check.Printed(t, "dB per Np", DecibelsPerNeper, "8.685889638")
	check.Within(t, "1 Np leaves 1/e",
		Attenuation{{Alpha: 1, Frequency: 1, Exponent: 0}}.Amplitude(5, 1), 1/math.E, 1e-16)
}

func TestAttenuationSum(t *testing.T) {
	// Invented demo values: a hysteresis loss and Rayleigh scattering.
	law := Attenuation{{Alpha: 0.5, Frequency: 5e6, Exponent: 1},
		{Alpha: 0.2, Frequency: 5e6, Exponent: 4}}
	if err := law.Validate(); err != nil {
		t.Fatal(err)
	}
	check.Within(t, "at the reference", law.Nepers(5e6), 0.7, 1e-15)
	check.Within(t, "at twice the reference", law.Nepers(10e6), 1+3.2, 1e-14)
	check.Within(t, "two paths follow one another", law.Amplitude(7e6, 0.1)*law.Amplitude(7e6, 0.3),
		law.Amplitude(7e6, 0.4), 1e-15)
	var none Attenuation
	if none.Nepers(1e6) != 0 || none.Amplitude(1e6, 10) != 1 || none.Validate() != nil {
		t.Errorf("nil law: %v Np/m, amplitude %v, %v",
			none.Nepers(1e6), none.Amplitude(1e6, 10), none.Validate())
	}
	for name, got := range map[string]float64{
		"frequency below 0": law.Nepers(-1), "frequency NaN": law.Decibels(math.NaN()),
		"path below 0": law.Amplitude(1e6, -1), "path NaN": law.Amplitude(1e6, math.NaN()),
		"frequency Inf": law.Nepers(math.Inf(1)), "path Inf": law.Amplitude(1e6, math.Inf(1)),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s: got %v, want NaN", name, got)
		}
	}
}

func TestAttenuationValidate(t *testing.T) {
	for _, tt := range []struct {
		term PowerLaw
		want string
	}{
		{PowerLaw{Alpha: -1, Frequency: 1, Exponent: 1}, "coefficient -1 Np/m"},
		{PowerLaw{Alpha: math.NaN(), Frequency: 1, Exponent: 1}, "coefficient NaN"},
		{PowerLaw{Alpha: math.Inf(1), Frequency: 1, Exponent: 1}, "coefficient +Inf"},
		{PowerLaw{Alpha: 1, Exponent: 1}, "reference frequency 0 Hz"},
		{PowerLaw{Alpha: 1, Frequency: math.NaN(), Exponent: 1}, "reference frequency NaN"},
		{PowerLaw{Alpha: 1, Frequency: math.Inf(1), Exponent: 1}, "reference frequency +Inf"},
		{PowerLaw{Alpha: 1, Frequency: 1, Exponent: -2}, "exponent -2"},
		{PowerLaw{Alpha: 1, Frequency: 1, Exponent: math.NaN()}, "exponent NaN"},
		{PowerLaw{Alpha: 1, Frequency: 1, Exponent: math.Inf(1)}, "exponent +Inf"},
	} {
		good := PowerLaw{Alpha: 1, Frequency: 1, Exponent: 1}
		err := Attenuation{good, tt.term}.Validate()
		if err == nil || !strings.HasPrefix(err.Error(), "material: attenuation term 1: ") ||
			!strings.Contains(err.Error(), tt.want) {
			t.Errorf("%+v: error %v, want one with %q", tt.term, err, tt.want)
		}
	}
}

// TestAttenuationOfNothing checks that a term without attenuation adds nothing, also where the
// power of the frequency overflows.
func TestAttenuationOfNothing(t *testing.T) {
	a := Attenuation{{Alpha: 0, Frequency: 1e6, Exponent: 1e4},
		{Alpha: 2, Frequency: 1e6, Exponent: 1}}
	if got := a.Nepers(5e6); got != 10 {
		t.Errorf("%v Np/m, want 10", got)
	}
}
