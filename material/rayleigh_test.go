// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// rayleighRatio returns cR/cT of a solid with the given Poisson's ratio, −1 to 0.5.
func rayleighRatio(poisson float64) float64 {
	return math.Sqrt(rayleighRoot((1 - 2*poisson) / (2 * (1 - poisson))))
}

// rayleighEstimates are published approximations of the ratio cR/cT for 0 ≤ ν ≤ 0.5, with the range
// of their relative error.
var rayleighEstimates = map[string]struct {
	ratio     func(nu float64) float64
	low, high float64
	source    string
}{
	"Viktorov": {func(nu float64) float64 { return (0.87 + 1.12*nu) / (1 + nu) }, -0.0047, 0.0008,
		"Viktorov, quoted from Rose"},
	"Freund": {func(nu float64) float64 { return (0.862 + 1.14*nu) / (1 + nu) }, -0.0138, -0.0006,
		"from memory of Freund, Dynamic Fracture Mechanics, 1990"},
	"Malischewsky": {func(nu float64) float64 { return 0.874 + nu*(0.196-nu*(0.043+nu*0.055)) }, -0.001, 0.00006,
		"Malischewsky, 2005"},
}

// TestRayleighRatio compares the ratio with closed forms and with an independent calculation
// (mpmath 1.2.1), and the errors of the published approximations, in per cent, with the same
// calculation.
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
		exact := rayleighRatio(tt.nu)
		check.Printed(t, "ratio", exact, tt.exact)
		if tt.viktorov == "" {
			continue
		}
		check.Printed(t, "error of Viktorov, %",
			100*(rayleighEstimates["Viktorov"].ratio(tt.nu)/exact-1), tt.viktorov)
		check.Printed(t, "error of Freund, %",
			100*(rayleighEstimates["Freund"].ratio(tt.nu)/exact-1), tt.freund)
		check.Printed(t, "error of Malischewsky, %",
			100*(rayleighEstimates["Malischewsky"].ratio(tt.nu)/exact-1), tt.malischewsky)
	}
	// Rose prints 0.92 for Viktorov's approximation at ν = 0.29.
	check.Within(t, "Viktorov at 0.29, printed 0.92", rayleighEstimates["Viktorov"].ratio(0.29),
		0.92, 0.01)

	check.Within(t, "ν = 0: √(3 − √5)", rayleighRatio(0), math.Sqrt(3-math.Sqrt(5)), 1e-15)
	check.Within(t, "ν = 1/4: √(2 − 2/√3)", rayleighRatio(0.25), math.Sqrt(2-2/math.Sqrt(3)), 1e-15)
	check.Printed(t, "ν = 1/2", rayleighRatio(0.5), "0.955312501026")
	check.Printed(t, "ν = -1", rayleighRatio(-1), "0.6889")
}

// TestRayleighSpeed compares the speed of a medium with the ratio at the Poisson's ratio of the
// medium.
func TestRayleighSpeed(t *testing.T) {
	for i := range 99 {
		m := Isotropic{Density: 1, Longitudinal: 6000,
			Transverse: 6000 * 0.866 * float64(i+1) / 100}
		want := m.Transverse * rayleighRatio(m.PoissonRatio())
		check.Within(t, "Rayleigh speed", m.Rayleigh(), want, 1e-13*want)
	}
}

// TestRayleighAgainstVinhOgden compares with a closed form that uses the principal cube roots and
// no iteration (Vinh and Ogden, Wave Motion 39, 2004, 191; formula from memory).
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
		// The closed form loses digits where its two roots cancel.
		check.Within(t, "ratio", rayleighRatio(nu), want, 1e-14)
	}
}

// TestRayleighEstimateBounds compares the published approximations with the exact ratio on a fine
// grid.
func TestRayleighEstimateBounds(t *testing.T) {
	for name, estimate := range rayleighEstimates {
		low, high := math.Inf(1), math.Inf(-1)
		for i := range 5001 {
			nu := float64(i) / 10000
			e := estimate.ratio(nu)/rayleighRatio(nu) - 1
			low, high = min(low, e), max(high, e)
		}
		if !(low >= estimate.low && high <= estimate.high) {
			t.Errorf("%s: errors from %v to %v, want %v to %v",
				name, low, high, estimate.low, estimate.high)
		}
	}
}
