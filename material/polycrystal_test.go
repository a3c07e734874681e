// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

func TestHillAverage(t *testing.T) {
	tests := []struct {
		crystal                  string
		longitudinal, transverse float64
	}{
		// Independent calculation from the same constants with numpy 1.24, printed to 0.01 m/s.
		{"aluminium", 6442.91, 3124.56},
		{"iron", 5981.35, 3216.49},
		{"nickel", 5757.10, 3110.05},
		{"copper", 4726.71, 2298.51},
		{"gallium arsenide", 5092.76, 2964.29},
		{"austenitic steel", 5743.10, 3129.83},
		{"austenitic steel Fe-18Cr-8Ni", 5743.57, 3078.03},
	}
	for _, test := range tests {
		t.Run(test.crystal, func(t *testing.T) {
			got := check.Must(publishedCrystal(t, test.crystal).Hill())
			if !(math.Abs(got.Longitudinal-test.longitudinal) <= 0.006) {
				t.Errorf("longitudinal %.3f m/s, want %v", got.Longitudinal, test.longitudinal)
			}
			if !(math.Abs(got.Transverse-test.transverse) <= 0.006) {
				t.Errorf("transverse %.3f m/s, want %v", got.Transverse, test.transverse)
			}
		})
	}
}

// TestHillAgainstPolycrystals compares the averages with speeds measured on metals in use: a test
// of the whole way from the single crystal to the handbook.
func TestHillAgainstPolycrystals(t *testing.T) {
	tests := []struct {
		crystal                  string
		longitudinal, transverse float64
		source                   string
	}{
		{"iron", 5960, 3220, "ASTM E494, table X3.1, electrolytic iron"},
		{"aluminium", 6300, 3130, "ASTM E494, table X3.1"},
		{"austenitic steel", 5790, 3100, "ASTM E494, table X3.1, stainless steel 347"},
		{"copper", 4700, 2260, "ASTM E494, table X3.1"},
		{"copper", 4760, 2325, "CRC Handbook, speed of sound in various media, annealed copper"},
		{"magnesium", 5740, 3080, "ASTM E494, table X3.1"},
	}
	const tolerance = 0.03
	for _, test := range tests {
		got := check.Must(publishedCrystal(t, test.crystal).Hill())
		if d := got.Longitudinal/test.longitudinal - 1; !(math.Abs(d) <= tolerance) {
			t.Errorf("%s: longitudinal %.0f m/s, %+.1f%% from %v of %s",
				test.crystal, got.Longitudinal, 100*d, test.longitudinal, test.source)
		}
		if d := got.Transverse/test.transverse - 1; !(math.Abs(d) <= tolerance) {
			t.Errorf("%s: transverse %.0f m/s, %+.1f%% from %v of %s",
				test.crystal, got.Transverse, 100*d, test.transverse, test.source)
		}
	}
}

// voigt and reuss return the media of the two bounds of Hill's mean.
func voigt(m Anisotropic) (Isotropic, error) {
	bulk, shear := m.Stiffness.voigtModuli()
	return fromModuli(m.Density, bulk+4*shear/3, shear)
}

func reuss(m Anisotropic) (Isotropic, error) {
	bulk, shear, err := m.Stiffness.reussModuli()
	if err != nil {
		return Isotropic{}, err
	}
	return fromModuli(m.Density, bulk+4*shear/3, shear)
}

// TestCubicAverages compares with the averages of cubic crystals in closed form (Hill, Proc. Phys.
// Soc. A 65, 1952, 349). The bulk modulus is (C11 + 2·C12)/3 in both. The shear modulus is (C11 −
// C12 + 3·C44)/5 for equal strains and 5·C44·(C11 − C12)/(4·C44 + 3·(C11 − C12)) for equal
// stresses.
func TestCubicAverages(t *testing.T) {
	const c11, c12, c44, density = 237e9, 141e9, 116e9, 7870
	stiffness := Cubic{c11, c12, c44}.Stiffness()
	for _, test := range []struct {
		name    string
		average func(Anisotropic) (Isotropic, error)
		shear   float64
	}{
		{"Voigt", voigt, (c11 - c12 + 3*c44) / 5},
		{"Reuss", reuss, 5 * c44 * (c11 - c12) / (4*c44 + 3*(c11-c12))},
	} {
		got := check.Must(test.average(Anisotropic{density, stiffness}))
		bulk := (c11 + 2*c12) / 3.0
		want := Isotropic{density, math.Sqrt((bulk + 4*test.shear/3) / density),
			math.Sqrt(test.shear / density)}
		checkAverage(t, test.name, got, want)
	}
}

// checkAverage fails the test unless got and want are equal to rounding.
func checkAverage(t *testing.T, name string, got, want Isotropic) {
	t.Helper()
	const tolerance = 1e-13
	if got.Density != want.Density ||
		!(math.Abs(got.Longitudinal/want.Longitudinal-1) <= tolerance) ||
		!(math.Abs(got.Transverse/want.Transverse-1) <= tolerance) {
		t.Errorf("%s: %v, want %v", name, got, want)
	}
}

func TestAverageProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, solid := range randomSolids {
		t.Run(solid.name, func(t *testing.T) {
			for range 20 {
				m := solid.make(rng)
				turned, err := m.Stiffness.Rotate(randomRotation(rng))
				if err != nil {
					t.Fatal(err)
				}
				var averages [3]Isotropic
				for i, f := range []func(Anisotropic) (Isotropic, error){reuss, Anisotropic.Hill, voigt} {
					if averages[i], err = f(m); err != nil {
						t.Fatal(err)
					}
					again := check.Must(f(Anisotropic{m.Density, turned}))
					checkAverage(t, "turned", again, averages[i])
				}
				for i := range 2 {
					if !(averages[i].Longitudinal < averages[i+1].Longitudinal &&
						averages[i].Transverse < averages[i+1].Transverse) {
						t.Errorf("Reuss, Hill, Voigt: %v, want ascending speeds", averages)
					}
				}
			}
		})
	}
	steel := Isotropic{7850, 5920, 3255}
	m := check.Must(steel.Anisotropic())
	for _, f := range []func(Anisotropic) (Isotropic, error){voigt, reuss, Anisotropic.Hill} {
		got := check.Must(f(m))
		checkAverage(t, "isotropic", got, steel)
	}
}
