// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestElasticConstantsOfSpeeds compares with an independent calculation from the relations of
// isotropic elasticity, mpmath 1.2.1. The speeds are from ISO 2400 (from memory) and ASTM E494
// Table X3.1.
func TestElasticConstantsOfSpeeds(t *testing.T) {
	for _, tt := range []struct {
		name                              string
		m                                 Isotropic
		nu, mu, lambda, young, bulk       string // GPa
		bar, plate, rayleigh, impedanceMR string
	}{
		{"steel of ISO 2400", Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255},
			"0.283345", "83.17095", "108.7723", "213.474", "164.2196", "5214.80", "5437.65", "3010.189", "46.472"},
		{"steel", Isotropic{Density: 7700, Longitudinal: 5900, Transverse: 3230}, "0.2860102",
			"80.33333", "107.3703", "206.619", "160.9259", "5180.12", "5405.94", "2988.435", "45.430"},
		{"stainless steel 347", Isotropic{Density: 7910, Longitudinal: 5790, Transverse: 3100},
			"0.2990725", "76.0151", "113.1454", "197.4983", "163.8222", "4996.82", "5236.49", "2874.530", "45.799"},
		{"aluminium", Isotropic{Density: 2700, Longitudinal: 6300, Transverse: 3130}, "0.3361344",
			"26.45163", "54.25974", "70.68587", "71.89416", "5116.63", "5432.74", "2920.125", "17.010"},
		{"copper", Isotropic{Density: 8900, Longitudinal: 4700, Transverse: 2260}, "0.3496208",
			"45.45764", "105.6857", "122.7012", "135.9908", "3713.04", "3963.15", "2113.003", "41.830"},
		{"fused quartz", Isotropic{Density: 2200, Longitudinal: 5930, Transverse: 3750},
			"0.1668033", "30.9375", "15.48778", "72.19595", "36.11278", "5728.56", "5809.95", "3394.532", "13.046"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			check.Printed(t, "Poisson's ratio", tt.m.PoissonRatio(), tt.nu)
			check.Printed(t, "shear modulus, GPa", tt.m.ShearModulus()/1e9, tt.mu)
			check.Printed(t, "Lamé's λ = K − 2G/3, GPa",
				(tt.m.BulkModulus()-2*tt.m.ShearModulus()/3)/1e9, tt.lambda)
			check.Printed(t, "Young's modulus, GPa", tt.m.YoungModulus()/1e9, tt.young)
			check.Printed(t, "bulk modulus, GPa", tt.m.BulkModulus()/1e9, tt.bulk)
			check.Printed(t, "bar speed, m/s", tt.m.BarSpeed(), tt.bar)
			check.Printed(t, "plate speed, m/s", tt.m.PlateSpeed(), tt.plate)
			check.Printed(t, "Rayleigh speed, m/s", tt.m.Rayleigh(), tt.rayleigh)
			check.Printed(t, "impedance, MRayl", tt.m.Impedance(L)/1e6, tt.impedanceMR)
		})
	}
}

// TestSpeedsOfElasticConstants compares with an independent calculation, mpmath 1.2.1.
func TestSpeedsOfElasticConstants(t *testing.T) {
	for _, tt := range []struct {
		young, nu, density float64
		l, t, r            string
	}{
		{210e9, 0.3, 7850, "6000.97983", "3207.65865", "2974.8234"},
		{70e9, 0.33, 2700, "6197.8243", "3121.95271", "2909.7314"},
		{116e9, 0.32, 4500, "6073.49919", "3124.78956", "2907.6253"},
	} {
		m := check.Must(FromYoungPoisson(tt.density, tt.young, tt.nu))
		check.Printed(t, "longitudinal", m.Longitudinal, tt.l)
		check.Printed(t, "transverse", m.Transverse, tt.t)
		check.Printed(t, "Rayleigh", m.Rayleigh(), tt.r)
	}
	m := check.Must(FromYoungPoisson(7850, 210e9, 0.3))
	check.Printed(t, "bar", m.BarSpeed(), "5172.1942")
	// Cremer, Heckl and Petersson, Structure-Borne Sound, 3rd ed., section 4:
	// at ν = 0.3 the bulk speed is 16 % above the bar speed.
	check.Printed(t, "bulk over bar speed at ν = 0.3, printed", m.Longitudinal/m.BarSpeed(), "1.16")
	check.Printed(t, "bulk over bar speed at ν = 0.3, exact", m.Longitudinal/m.BarSpeed(),
		"1.160239")
}

// TestSpeedsOfNortonKarczub compares with Norton and Karczub, Fundamentals of Noise and Vibration
// Analysis for Engineers, 2nd ed., Appendix 4: density, E, ν, bar and bulk speed as printed,
// rounded to 50 m/s. The tolerance is 2 %.
func TestSpeedsOfNortonKarczub(t *testing.T) {
	for _, tt := range []struct {
		name               string
		density, young, nu float64
		bar, bulk          float64 // printed, m/s
		exactBar           string  // independent calculation, mpmath 1.2.1
		exactBulk          string
		bulkTolerance      float64
		why                string
	}{
		{"aluminium", 2700, 71e9, 0.33, 5150, 6300, "5128.0", "6241.9", 0.02, "rounded"},
		{"brass", 8500, 104e9, 0.37, 3500, 4700, "3497.9", "4651.9", 0.02, "rounded"},
		{"copper", 8900, 122e9, 0.35, 3700, 5000, "3702.4", "", 0.07,
			"the printed bulk speed is 6 % above that of E and ν"},
		{"cast iron", 7700, 105e9, 0.28, 3700, 4350, "", "", 0.05,
			"the printed bulk speed is 4 % above that of E and ν"},
		{"Pyrex glass", 2300, 62e9, 0.24, 5200, 5600, "", "", 0.02, "rounded"},
		{"nickel", 8800, 210e9, 0.31, 4900, 5850, "", "", 0.02, "rounded"},
		{"steel", 7700, 195e9, 0.28, 5050, 6100, "5032", "5690", 0.08,
			"the printed bulk speed contradicts E and ν by 7 %: it is not in the handbook table"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m := check.Must(FromYoungPoisson(tt.density, tt.young, tt.nu))
			check.Within(t, "bar speed", m.BarSpeed(), tt.bar, 0.02*tt.bar)
			check.Within(t, "bulk speed ("+tt.why+")", m.Longitudinal, tt.bulk,
				tt.bulkTolerance*tt.bulk)
			if tt.exactBar != "" {
				check.Printed(t, "bar speed", m.BarSpeed(), tt.exactBar)
			}
			if tt.exactBulk != "" {
				check.Printed(t, "bulk speed", m.Longitudinal, tt.exactBulk)
			}
		})
	}
}

// TestSpeedsOfCremerHeckl compares with Cremer, Heckl and Petersson, Structure-Borne Sound, 3rd
// ed., Table 4.3: density, E, G, ν, bar and transverse speed, printed with two digits. The
// tolerance is therefore 5 %.
func TestSpeedsOfCremerHeckl(t *testing.T) {
	for _, tt := range []struct {
		name                       string
		density, young, shear, nu  float64
		bar, transverse, tolerance float64
	}{
		{"aluminium", 2700, 72e9, 27e9, 0.34, 5200, 3100, 0.05},
		{"steel", 7800, 210e9, 77e9, 0.31, 5100, 3100, 0.05},
		{"copper", 8900, 125e9, 46e9, 0.35, 3700, 2300, 0.05},
		{"brass", 8500, 95e9, 36e9, 0.33, 3200, 2100, 0.05},
		{"nickel", 8900, 205e9, 77e9, 0.30, 4800, 2900, 0.05},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m, err := FromYoungPoisson(tt.density, tt.young, tt.nu)
			if err != nil {
				t.Fatal(err)
			}
			check.Within(t, "bar speed", m.BarSpeed(), tt.bar, tt.tolerance*tt.bar)
			check.Within(t, "transverse speed", m.Transverse, tt.transverse,
				tt.tolerance*tt.transverse)
			check.Within(t, "shear modulus", m.ShearModulus(), tt.shear, tt.tolerance*tt.shear)
			m, err = FromYoungPoisson(tt.density, tt.young, tt.young/(2*tt.shear)-1)
			if err != nil {
				t.Fatal(err)
			}
			check.Within(t, "transverse speed from E and G", m.Transverse, tt.transverse,
				tt.tolerance*tt.transverse)
		})
	}
}

// TestElasticRoundTrip calculates the elastic constants of random solids over the whole range of
// Poisson's ratio, and the speeds from those constants. Near ν = 1/2 and ν = −1 the constants
// determine a speed badly; the tolerance grows there.
func TestElasticRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for range 2000 {
		m := Isotropic{Density: 500 + 20000*rng.Float64(), Longitudinal: 500 + 15000*rng.Float64()}
		m.Transverse = m.Longitudinal * (0.01 + 0.85*rng.Float64())
		nu := m.PoissonRatio()
		blind := 1/(0.5-nu) + 1/(1+nu)
		back, err := FromYoungPoisson(m.Density, m.YoungModulus(), nu)
		if err != nil {
			t.Fatalf("%+v: %v", m, err)
		}
		tol := 2e-15 + 4e-16*blind
		check.Within(t, "longitudinal", back.Longitudinal/m.Longitudinal, 1, tol)
		check.Within(t, "transverse", back.Transverse/m.Transverse, 1, tol)
		modulus := m.Density * m.Longitudinal * m.Longitudinal
		check.Within(t, "ρ·cL² = K + 4G/3", m.BulkModulus()+4*m.ShearModulus()/3, modulus,
			3e-15*modulus)
		check.Within(t, "E = 2G(1 + ν)", m.YoungModulus(), 2*m.ShearModulus()*(1+nu),
			2e-15*blind*m.YoungModulus())
		check.Within(t, "plate speed", m.PlateSpeed(), m.BarSpeed()/math.Sqrt(1-nu*nu),
			2e-15*blind*m.PlateSpeed())
	}
}

func TestElasticFluid(t *testing.T) {
	m := Isotropic{Density: 998, Longitudinal: 1482}
	for name, got := range map[string]float64{
		"shear": m.ShearModulus(), "Young": m.YoungModulus(), "bar": m.BarSpeed(),
		"plate": m.PlateSpeed(), "Rayleigh": m.Rayleigh(), "impedance of T": m.Impedance(T),
	} {
		if got != 0 {
			t.Errorf("%s of a fluid: got %v, want 0", name, got)
		}
	}
	if got := m.PoissonRatio(); got != 0.5 {
		t.Errorf("Poisson's ratio of a fluid: got %v, want 0.5", got)
	}
	check.Within(t, "bulk modulus", m.BulkModulus(), 998*1482*1482, 1e-6)
}

func TestElasticErrors(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, tt := range []struct {
		name                    string
		density, young, poisson float64
		want                    string // a part of the message
	}{
		{"density 0", 0, 2e11, 0.3, "density 0"},
		{"density NaN", nan, 2e11, 0.3, "density NaN"},
		{"density Inf", inf, 2e11, 0.3, "density +Inf"},
		{"density below 0", -1, 2e11, 0.3, "density -1"},
		{"Young 0", 7800, 0, 0.3, "Young's modulus 0 Pa"},
		{"Young NaN", 7800, nan, 0.3, "Young's modulus NaN"},
		{"Young Inf", 7800, inf, 0.3, "Young's modulus +Inf"},
		{"Poisson 0.5", 7800, 2e11, 0.5, "ratio 0.5: want above -1 and below 0.5"},
		{"Poisson -1", 7800, 2e11, -1, "ratio -1"},
		{"Poisson NaN", 7800, 2e11, nan, "ratio NaN"},
		{"overflow", 1e-300, 1e300, 0.3, "longitudinal speed +Inf"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := FromYoungPoisson(tt.density, tt.young, tt.poisson)
			check.Error(t, err, "material: ", tt.want)
		})
	}
}
