// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/material"
)

const degree = math.Pi / 180

// The media of several groups. Only their speeds and densities enter.
var (
	blockSteel  = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255} // ISO 2400, from memory
	tableSteel  = material.Isotropic{Density: 7700, Longitudinal: 5900, Transverse: 3230} // ASTM E494, Table X3.1
	acrylic     = material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430} // Krautkrämer 1990, from memory
	waterAt1480 = material.Isotropic{Density: 1000, Longitudinal: 1480}
	// quarterSolid has Poisson's ratio 1/4.
	quarterSolid = material.Isotropic{Density: 2700, Longitudinal: 1000 * math.Sqrt(3), Transverse: 1000}
)

// speeds checks wave speeds, elastic constants and attenuation.
func speeds() []check {
	water := func(celsius float64) func() (float64, error) {
		return func() (float64, error) {
			m, err := material.Water(celsius)
			return m.Longitudinal, err
		}
	}
	bar := func(l, t float64) func() (float64, error) {
		return exactly(material.Isotropic{Density: 1000, Longitudinal: l, Transverse: t}.BarSpeed)
	}
	young := func(density, gigapascal, poisson float64, of func(material.Isotropic) float64) func() (float64, error) {
		return func() (float64, error) {
			m, err := material.FromYoungPoisson(density, gigapascal*1e9, poisson)
			return of(m), err
		}
	}
	rayleigh := func(poisson float64) func() (float64, error) {
		return young(1000, 1, poisson, func(m material.Isotropic) float64 { return m.Rayleigh() / m.Transverse })
	}
	// E and ν have two digits in the book, which is 2 % of the bulk speed.
	bulk := func(m material.Isotropic) float64 { return m.Longitudinal }
	return []check{
		{"water, 20 °C", published, "Marczak 1997, output in a manual", "1482.38", "m/s", 0, water(20)},
		{"water, 25 °C", published, "Del Grosso 1972, output in a manual", "1496.688", "m/s", 0.05, water(25)},
		{"water, 20 °C", published, "Norton 2003, Appendix 4", "1483", "m/s", 1, water(20)},
		{"water, 0 °C", published, "Bilaniuk 1993, 148 points", "1402.38744", "m/s", 0.05, water(0)},
		{"water, 50 °C", published, "Bilaniuk 1993, 148 points", "1542.56516", "m/s", 0.05, water(50)},
		{"water, 95 °C", published, "Bilaniuk 1993, 148 points", "1547.17192", "m/s", 0.05, water(95)},
		{"water, 30 °C", published, "Lubbers 1998, equation b", "1509.28", "m/s", 0.18, water(30)},
		{"water, attenuation over frequency squared, 20 °C", published, "Pinkerton 1949, from memory", "25.3",
			"10⁻¹⁵ s²/m", 5, waterAttenuation(20)},
		{"steel in the handbook, L", published, "ASTM E494, Table X3.1", "5900", "m/s", 0, handbook("ASTM E494", "steel", material.L)},
		{"steel in the handbook, T", published, "ASTM E494, Table X3.1", "3230", "m/s", 0, handbook("ASTM E494", "steel", material.T)},
		{"aluminium in the handbook, L", published, "ASTM E494, Table X3.1", "6300", "m/s", 0, handbook("ASTM E494", "aluminium", material.L)},
		{"aluminium in the handbook, T", published, "ASTM E494, Table X3.1", "3130", "m/s", 0, handbook("ASTM E494", "aluminium", material.T)},
		{"bar speed from cL and cT, aluminium, rolled", published, "CRC, Table 1", "5000", "m/s", 50, bar(6420, 3040)},
		{"bar speed from cL and cT, beryllium", published, "CRC, Table 1", "12870", "m/s", 50, bar(12890, 8880)},
		{"bar speed from cL and cT, copper, annealed", published, "CRC, Table 1", "3810", "m/s", 20, bar(4760, 2325)},
		{"bar speed from cL and cT, iron, Armco", published, "CRC, Table 1", "5200", "m/s", 20, bar(5960, 3240)},
		{"bar speed from cL and cT, iron, cast", published, "CRC, Table 1", "4480", "m/s", 20, bar(4994, 2809)},
		{"bar speed from cL and cT, molybdenum", published, "CRC, Table 1", "5400", "m/s", 20, bar(6250, 3350)},
		{"bar speed from cL and cT, silver", published, "CRC, Table 1", "2680", "m/s", 20, bar(3650, 1610)},
		{"bar speed from E and ν, copper", published, "Norton 2003, Appendix 4", "3700", "m/s", 50, young(8900, 122, 0.35, material.Isotropic.BarSpeed)},
		{"bulk speed from E and ν, brass", published, "Norton 2003, Appendix 4", "4700", "m/s", 94, young(8500, 104, 0.37, bulk)},
		{"bulk speed from E and ν, aluminium", published, "Norton 2003, Appendix 4", "6300", "m/s", 126, young(2700, 71, 0.33, bulk)},
		{"L over bar speed at ν = 0.3", published, "Cremer 2005, text", "1.16", "", 0,
			young(7800, 210, 0.3, func(m material.Isotropic) float64 { return m.Longitudinal / m.BarSpeed() })},
		{"Poisson's ratio of the steel of ISO 2400", calculated, "mpmath", "0.283345", "", 0, exactly(blockSteel.PoissonRatio)},
		{"Young's modulus of the steel of ISO 2400", calculated, "mpmath", "213.474", "GPa", 0,
			exactly(func() float64 { return blockSteel.YoungModulus() / 1e9 })},
		{"cR/cT at ν = 0", closedForm, "Rayleigh 1885, √(3 − √5)", "0.874032048898", "", 1e-12, rayleigh(0)},
		{"cR/cT at ν = 1/4", closedForm, "Rayleigh 1885, √(2 − 2/√3)", "0.919401686762", "", 1e-12, rayleigh(0.25)},
		{"cR/cT at ν = 0.29, cut off", published, "Viktorov 1967, after Rose", "0.92", "", 0.01, rayleigh(0.29)},
		{"cR/cT at ν = 0.34", published, "Malischewsky 2005, polynomial", "0.933507", "", 1e-4, rayleigh(0.34)},
		{"Rayleigh speed of the steel of ISO 2400", calculated, "mpmath", "3010.189", "m/s", 0, exactly(blockSteel.Rayleigh)},
		{"grain scattering, T over L, long waves, 5960/3240 m/s", closedForm, "Papadakis 1965, ¾·(cL/cT)³", "4.668367", "", 0,
			grainRatio(material.Grains.Rayleigh)},
		{"grain scattering, T over L, stochastic, 5960/3240 m/s", closedForm, "Papadakis 1965, ⅝·(cL/cT)⁶", "24.215170", "", 0,
			grainRatio(material.Grains.Stochastic)},
		{"grain scattering of iron, L, 50 µm, 5 MHz", calculated, "mpmath", "2.8736", "dB/m", 0, func() (float64, error) {
			law, err := ironGrains.Rayleigh(material.L)
			return law.Decibels(5e6), err
		}},
	}
}

// handbook returns a speed of the handbook entry of a material and a source.
func handbook(source, name string, mode material.Mode) func() (float64, error) {
	return func() (float64, error) {
		for _, e := range material.Handbook().Lookup(name) {
			if len(e.Source) < len(source) || e.Source[:len(source)] != source {
				continue
			}
			if mode == material.T {
				return e.Transverse.Value, nil
			}
			return e.Longitudinal.Value, nil
		}
		return 0, fmt.Errorf("no entry %q of %s", name, source)
	}
}

// waterAttenuation returns the coefficient over the square of the frequency in 1e-15 Np·s²/m.
func waterAttenuation(celsius float64) func() (float64, error) {
	return func() (float64, error) {
		law, err := material.WaterAttenuation(celsius)
		return law.Nepers(1e6) / 1e12 / 1e-15, err
	}
}

// ironGrains is iron (Princeton tables: 237, 141, 116 GPa) in grains of 50 µm.
var ironGrains = material.Grains{
	Medium:   material.Isotropic{Density: 7870, Longitudinal: 5960, Transverse: 3240},
	Crystal:  material.Cubic{C11: 237e9, C12: 141e9, C44: 116e9},
	Diameter: 50e-6,
}

// grainRatio returns the attenuation of T waves over the attenuation of L waves.
func grainRatio(law func(material.Grains, material.Mode) (material.Attenuation, error)) func() (float64, error) {
	return func() (float64, error) {
		l, err := law(ironGrains, material.L)
		if err != nil {
			return 0, err
		}
		t, err := law(ironGrains, material.T)
		return t.Nepers(5e6) / l.Nepers(5e6), err
	}
}
