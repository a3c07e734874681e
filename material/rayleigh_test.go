// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material_test

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/isochron-imaging/isochron/material"
)

// The ratio is held to exact points (identities) and to an independent
// calculation (mpmath 1.2.1); the errors of the estimates in per cent likewise.
func TestRayleighRatio(t *testing.T) {
	for _, tt := range []struct {
		nu                             float64
		exact                          string
		viktorov, freund, malischewsky string // per cent
	}{
		{0, "0.8740320489", "-0.461", "-1.38", "-0.0037"},
		{0.05, "0.8836947572", "-0.203", "-0.957", "-0.0010"},
		{0.10, "0.8931060050", "-0.0424", "-0.653", "0.0010"},
		{0.20, "0.9109958910", "0.0736", "-0.292", "0.0048"},
		{0.25, "0.9194016868", "0.0651", "-0.196", "0.0056"},
		{0.28, "0.9242568785", "", "", ""},
		{0.29, "0.9258429701", "", "", ""},
		{0.30, "0.9274127097", "0.0301", "-0.136", "0.0035"},
		{0.33, "0.9320228931", "", "", ""},
		{0.34, "0.9335263678", "", "", ""},
		{0.35, "0.9350131275", "-0.0212", "-0.100", "-0.0041"},
		{0.40, "0.9421954331", "-0.0814", "-0.0814", "-0.0207"},
		{0.45, "0.9489596979", "-0.145", "-0.0721", "-0.0505"},
		{0.50, "0.9553125010", "-0.207", "-0.0676", "-0.0981"},
	} {
		exact := material.RayleighRatio(tt.nu)
		sameAsPrinted(t, "ratio", exact, tt.exact)
		if tt.viktorov == "" {
			continue
		}
		sameAsPrinted(t, "error of Viktorov, %", 100*(material.RayleighViktorov(tt.nu)/exact-1), tt.viktorov)
		sameAsPrinted(t, "error of Freund, %", 100*(material.RayleighFreund(tt.nu)/exact-1), tt.freund)
		sameAsPrinted(t, "error of Malischewsky, %", 100*(material.RayleighMalischewsky(tt.nu)/exact-1), tt.malischewsky)
	}
	// Viktorov's estimate at ν = 0.29 as printed by Rose: 0.92.
	sameWithin(t, "Viktorov at 0.29, printed 0.92", material.RayleighViktorov(0.29), 0.92, 0.01)

	sameWithin(t, "ν = 0: √(3 − √5)", material.RayleighRatio(0), math.Sqrt(3-math.Sqrt(5)), 1e-15)
	sameWithin(t, "ν = 1/4: √(2 − 2/√3)", material.RayleighRatio(0.25), math.Sqrt(2-2/math.Sqrt(3)), 1e-15)
	sameAsPrinted(t, "ν = 1/2", material.RayleighRatio(0.5), "0.955312501026")
	sameAsPrinted(t, "ν = -1", material.RayleighRatio(-1), "0.6889")
	for _, nu := range []float64{math.Nextafter(-1, -2), math.Nextafter(0.5, 1), math.NaN(), math.Inf(1)} {
		if got := material.RayleighRatio(nu); !math.IsNaN(got) {
			t.Errorf("ratio at ν = %v: got %v, want NaN", nu, got)
		}
	}
}

// The speed of a medium is the ratio at its Poisson's ratio.
func TestRayleighSpeed(t *testing.T) {
	for i := range 99 {
		m := material.Isotropic{Density: 1, Longitudinal: 6000, Transverse: 6000 * 0.866 * float64(i+1) / 100}
		want := m.Transverse * material.RayleighRatio(m.PoissonRatio())
		sameWithin(t, "Rayleigh speed", m.Rayleigh(), want, 1e-13*want)
	}
}

// Vinh and Ogden, Wave Motion 39 (2004) 191 (formula from memory): a closed form
// with the principal cube roots, independent of the iteration.
func TestRayleighAgainstVinhOgden(t *testing.T) {
	for i := range 1501 {
		nu := -1 + float64(i)/1000
		k := (1 - 2*nu) / (2 * (1 - nu))
		r := 2 * (27 - 90*k + 99*k*k - 32*k*k*k) / 27
		d := 4 * (1 - k) * (1 - k) * (11 - 62*k + 107*k*k - 64*k*k*k) / 27
		root := cmplx.Sqrt(complex(d, 0))
		first := cmplx.Pow(complex(r, 0)+root, 1.0/3)
		second := cmplx.Pow(complex(r, 0)-root, 1.0/3)
		if d >= 0 { // real cube roots, which may be of numbers below 0
			first = complex(math.Cbrt(r+real(root)), 0)
			second = complex(math.Cbrt(r-real(root)), 0)
		}
		want := math.Sqrt(4 * (1 - k) / (2 - 4*k/3 + real(first+second)))
		// The closed form itself loses digits where its two roots cancel.
		sameWithin(t, "ratio", material.RayleighRatio(nu), want, 1e-14)
	}
}

// The documented bounds of the estimates, on a fine grid.
func TestRayleighEstimateBounds(t *testing.T) {
	for _, tt := range []struct {
		name      string
		f         func(float64) float64
		low, high float64 // relative error
	}{
		{"Viktorov", material.RayleighViktorov, -0.0047, 0.0008},
		{"Freund", material.RayleighFreund, -0.0138, -0.0006},
		{"Malischewsky", material.RayleighMalischewsky, -0.001, 0.00006},
	} {
		low, high := math.Inf(1), math.Inf(-1)
		for i := range 5001 {
			nu := float64(i) / 10000
			e := tt.f(nu)/material.RayleighRatio(nu) - 1
			low, high = min(low, e), max(high, e)
		}
		if !(low >= tt.low && high <= tt.high) {
			t.Errorf("%s: errors from %v to %v, documented %v to %v", tt.name, low, high, tt.low, tt.high)
		}
		for _, nu := range []float64{-0.01, 0.51, math.NaN()} {
			if got := tt.f(nu); !math.IsNaN(got) {
				t.Errorf("%s at ν = %v: got %v, want NaN", tt.name, nu, got)
			}
		}
	}
}
