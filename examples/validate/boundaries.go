// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"math/cmplx"

	"github.com/isochron-imaging/isochron/material"
)

// refractions checks Snell's law and critical angles.
func refractions() []check {
	refract := func(angle, from, to float64) func() (float64, error) {
		return exactly(func() float64 { return material.Refract(angle*degree, from, to) / degree })
	}
	critical := func(from, to float64) func() (float64, error) {
		return exactly(func() float64 { return material.CriticalAngle(from, to) / degree })
	}
	return []check{
		{"refraction of 20°, 2730 to 5960 m/s", published, "Snell slides, example", "48.3", "°", 0, refract(20, 2730, 5960)},
		{"refraction of 15°, 2730 to 5960 m/s", published, "Snell slides, example", "34.4", "°", 0, refract(15, 2730, 5960)},
		{"refraction of 37.9°, 2700 to 3250 m/s", published, "Snell slides, example", "47.7", "°", 0, refract(37.9, 2700, 3250)},
		{"refraction of 10°, 2700 to 5920 m/s (cut off)", published, "Snell slides, example", "22.3", "°", 0.1, refract(10, 2700, 5920)},
		{"turn of a 70° T beam by 1 % of cT", published, "Krautkrämer 1990, metallic materials", "1.5", "°", 0.1, turnOfBeam},
		{"critical angle, 2300 to 2400 m/s", published, "bruges, reflection_test.py", "73.40215786", "°", 0, critical(2300, 2400)},
		{"critical angle, 1500 to 3200 m/s", published, "bruges, reflection_test.py", "27.9531869", "°", 0, critical(1500, 3200)},
		{"critical angle, 1500 to 1600 m/s", published, "bruges, reflection_test.py", "69.6358652", "°", 0, critical(1500, 1600)},
		{"first critical angle, acrylic to steel", published, "textbooks, from memory", "27.6", "°", 0, critical(2730, 5900)},
		{"second critical angle, acrylic to steel", published, "textbooks, from memory", "57.7", "°", 0, critical(2730, 3230)},
		{"Rayleigh angle, water to steel", calculated, "mpmath", "29.69", "°", 0, exactly(func() float64 {
			return material.CriticalAngle(1480, tableSteel.Rayleigh()) / degree
		})},
		{"wedge angle for 60° T, 2330 to 3240 m/s", calculated, "mpmath", "38.52015", "°", 0, refract(60, 3240, 2330)},
	}
}

// turnOfBeam returns by how many degrees 1 % of the transverse speed turns a 70° beam of an
// acrylic wedge, in the mean of both signs.
func turnOfBeam() (float64, error) {
	incidence := material.Refract(70*degree, 3255, 2730)
	up := material.Refract(incidence, 2730, 1.01*3255)
	down := material.Refract(incidence, 2730, 0.99*3255)
	return (up - down) / 2 / degree, nil
}

// boundaries checks reflection and transmission.
func boundaries() []check {
	// Steel and water with the impedances of the book, 45 and 1.5 MRayl.
	steel := material.Isotropic{Density: 45e3, Longitudinal: 1000, Transverse: 500}
	water := material.Isotropic{Density: 1.5e3, Longitudinal: 1000}
	stainless := material.Isotropic{Density: 7910, Longitudinal: 5790, Transverse: 3100} // ASTM E494, 347
	upperRock := material.Isotropic{Density: 2.66, Longitudinal: 12250, Transverse: 6200}
	lowerRock := material.Isotropic{Density: 2.34, Longitudinal: 11600, Transverse: 6650}
	upperCrust := material.Isotropic{Density: 2.667, Longitudinal: 4.98, Transverse: 2.9}
	mantle := material.Isotropic{Density: 3.38, Longitudinal: 8, Transverse: 4.6}
	const l, t = material.L, material.T
	return []check{
		{"water to steel, reflected pressure", published, "Krautkrämer 1990, p. 17", "0.935", "", 0,
			pressure(water, steel, func(p material.Coefficients) complex128 { return p.Reflected[l] })},
		{"water to steel, transmitted pressure", published, "Krautkrämer 1990, p. 17", "1.935", "", 0,
			pressure(water, steel, func(p material.Coefficients) complex128 { return p.Transmitted[l] })},
		{"water to steel, reflected pressure", published, "Krautkrämer 1990, p. 17", "-0.58", "dB", 0,
			inDecibels(pressure(water, steel, func(p material.Coefficients) complex128 { return p.Reflected[l] }))},
		{"water to steel, transmitted pressure", published, "Krautkrämer 1990, p. 17", "5.74", "dB", 0,
			inDecibels(pressure(water, steel, func(p material.Coefficients) complex128 { return p.Transmitted[l] }))},
		{"steel to water, reflected pressure", published, "Krautkrämer 1990, p. 17", "-0.935", "", 0,
			pressure(steel, water, func(p material.Coefficients) complex128 { return p.Reflected[l] })},
		{"steel to water, transmitted pressure", published, "Krautkrämer 1990, p. 17", "-23.81", "dB", 0,
			inDecibels(pressure(steel, water, func(p material.Coefficients) complex128 { return p.Transmitted[l] }))},
		{"water to stainless steel, reflected energy", published, "NDE notes, reflection", "0.88", "", 0,
			energy(waterAt1480, stainless, material.Welded, l, 0, func(e material.EnergyCoefficients) float64 { return e.Reflected[l] })},
		{"solid on solid, reflected L at 40°", published, "bruges, reflection_test.py", "-0.112236", "", 0,
			displacement(upperRock, lowerRock, l, 40, func(d material.Coefficients) complex128 { return d.Reflected[l] })},
		{"crust on mantle, reflected T of L at 15°", calculated, "mpmath, media of Young and Braile 1976", "-0.1787679", "", 0,
			displacement(upperCrust, mantle, l, 15, func(d material.Coefficients) complex128 { return d.Reflected[t] })},
		{"crust on mantle, transmitted T of T at 15°", calculated, "mpmath, media of Young and Braile 1976", "0.6758003", "", 0,
			displacement(upperCrust, mantle, t, 15, func(d material.Coefficients) complex128 { return d.Transmitted[t] })},
		{"water on steel, energy of T at 20°", calculated, "mpmath", "0.15705039", "", 0,
			energy(waterAt1480, tableSteel, material.Welded, l, 20, func(e material.EnergyCoefficients) float64 { return e.Transmitted[t] })},
		{"acrylic on steel, couplant, energy of T at 40°", calculated, "mpmath", "0.2217375", "", 0,
			energy(acrylic, blockSteel, material.LiquidFilm, l, 40, func(e material.EnergyCoefficients) float64 { return e.Transmitted[t] })},
		{"acrylic on steel, welded, energy of reflected T at 40°", calculated, "mpmath", "0.6805441", "", 0,
			energy(acrylic, blockSteel, material.Welded, l, 40, func(e material.EnergyCoefficients) float64 { return e.Reflected[t] })},
		{"acrylic wedge, angle of the largest echo of T", published, "Krautkrämer 1990, from memory", "38", "°", 1,
			func() (float64, error) { at, _, err := bestBeam(); return at, err }},
		{"acrylic wedge, largest echo transmittance of T", published, "Krautkrämer 1990, from memory", "0.30", "", 0.02,
			func() (float64, error) { _, peak, err := bestBeam(); return peak, err }},
		{"free surface, ν = 1/4, L to L at 60°", closedForm, "Bullen 1963, from memory", "0", "", 1e-12, free(quarterSolid, l, l, 60)},
		{"free surface, ν = 1/4, T to T at 30°", closedForm, "Bullen 1963, from memory", "0", "", 1e-12, free(quarterSolid, t, t, 30)},
		{"free surface, ν = 1/4, second angle without L", published, "Bullen 1963, 12° 47′ emergence, from memory", "77.217", "°", 0.02, secondZero},
		{"free surface, T at 45°, converted L", closedForm, "Krautkrämer 1990, appendix A.3", "0", "", 1e-12, free(blockSteel, t, l, 45)},
		{"free surface, T to T at 40°, beyond the critical angle", identity, "algebra, total reflection", "1", "", 1e-12, free(blockSteel, t, t, 40)},
		{"free surface of steel, L to T at 45°", calculated, "mpmath", "1.0908148", "", 0, free(blockSteel, l, t, 45)},
		{"corner echo of T at 60°", calculated, "mpmath; unsuitable by Krautkrämer 1990", "-18.72", "dB", 0, corner(60)},
		{"corner echo of T at 45°", published, "Krautkrämer 1990, from memory: total", "0", "dB", 1e-9, corner(45)},
		{"energy in, energy out: largest defect, 0° to 90°", identity, "algebra, conservation of energy", "0", "", 1e-12,
			energyDefect(acrylic, blockSteel)},
		{"energy 1 to 2 less energy 2 to 1: largest defect", identity, "algebra, reciprocity", "0", "", 1e-12,
			reciprocityDefect(acrylic, blockSteel)},
	}
}

// scatter returns what a plane wave does at a boundary.
func scatter(upper, lower material.Isotropic, contact material.Contact, mode material.Mode, angle float64) (material.Scattering, error) {
	b, err := material.NewBoundary(upper, lower, contact)
	if err != nil {
		return material.Scattering{}, err
	}
	return b.Scatter(mode, angle*degree)
}

// pressure returns the real part of a pressure coefficient at normal incidence.
func pressure(upper, lower material.Isotropic, of func(material.Coefficients) complex128) func() (float64, error) {
	return func() (float64, error) {
		s, err := scatter(upper, lower, material.Welded, material.L, 0)
		return real(of(s.Pressure)), err
	}
}

// displacement returns the real part of a displacement coefficient of two welded media.
func displacement(upper, lower material.Isotropic, mode material.Mode, angle float64, of func(material.Coefficients) complex128) func() (float64, error) {
	return func() (float64, error) {
		s, err := scatter(upper, lower, material.Welded, mode, angle)
		return real(of(s.Displacement)), err
	}
}

// energy returns an energy coefficient.
func energy(upper, lower material.Isotropic, contact material.Contact, mode material.Mode, angle float64, of func(material.EnergyCoefficients) float64) func() (float64, error) {
	return func() (float64, error) {
		s, err := scatter(upper, lower, contact, mode, angle)
		return of(s.Energy), err
	}
}

// inDecibels returns the modulus of an amplitude in dB.
func inDecibels(f func() (float64, error)) func() (float64, error) {
	return func() (float64, error) {
		v, err := f()
		return 20 * math.Log10(math.Abs(v)), err
	}
}

// free returns the modulus of the displacement reflected by a free surface.
func free(m material.Isotropic, in, out material.Mode, angle float64) func() (float64, error) {
	return func() (float64, error) {
		b, err := material.NewFreeSurface(m)
		if err != nil {
			return 0, err
		}
		s, err := b.Scatter(in, angle*degree)
		return cmplx.Abs(s.Displacement.Reflected[out]), err
	}
}

// secondZero returns the angle in degrees, above 70, at which a solid with ν = 1/4 reflects no L.
func secondZero() (float64, error) {
	low, high := 70.0, 85.0
	for range 60 {
		middle := (low + high) / 2
		b, err := material.NewFreeSurface(quarterSolid)
		if err != nil {
			return 0, err
		}
		s, err := b.Scatter(material.L, middle*degree)
		if err != nil {
			return 0, err
		}
		if real(s.Displacement.Reflected[material.L]) > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return low, nil
}

// corner returns the echo of T from a corner of two free faces of steel, in dB.
func corner(angle float64) func() (float64, error) {
	return func() (float64, error) {
		face, err := material.NewFreeSurface(blockSteel)
		if err != nil {
			return 0, err
		}
		echo, err := material.CornerEcho(face, face, material.T, angle*degree)
		return 20 * math.Log10(cmplx.Abs(echo)), err
	}
}

// bestBeam returns the beam angle in steel, in degrees, at which an acrylic wedge on couplant
// passes the largest echo of T, and the share of the amplitude that comes back.
func bestBeam() (at, peak float64, err error) {
	b, err := material.NewBoundary(acrylic, blockSteel, material.LiquidFilm)
	if err != nil {
		return 0, 0, err
	}
	for angle := 34.0; angle < 80; angle += 0.1 {
		incidence := material.Refract(angle*degree, blockSteel.Transverse, acrylic.Longitudinal)
		echo, err := b.RoundTrip(material.L, material.T, incidence)
		if err != nil {
			return 0, 0, err
		}
		if v := cmplx.Abs(echo); v > peak {
			at, peak = angle, v
		}
	}
	return at, peak, nil
}

// energyDefect returns the largest deviation of the sum of all energies from 1, over both
// contacts, both modes and all whole degrees.
func energyDefect(upper, lower material.Isotropic) func() (float64, error) {
	return func() (worst float64, err error) {
		for _, contact := range []material.Contact{material.Welded, material.LiquidFilm} {
			for _, mode := range []material.Mode{material.L, material.T} {
				for angle := range 90 {
					s, err := scatter(upper, lower, contact, mode, float64(angle))
					if err != nil {
						return 0, err
					}
					e := s.Energy
					sum := e.Reflected[0] + e.Reflected[1] + e.Transmitted[0] + e.Transmitted[1]
					worst = max(worst, math.Abs(sum-1))
				}
			}
		}
		return worst, nil
	}
}

// reciprocityDefect returns the largest difference between the energy that passes from the upper L
// to the lower T and the energy that passes back on the same path.
func reciprocityDefect(upper, lower material.Isotropic) func() (float64, error) {
	return func() (worst float64, err error) {
		for angle := 1.0; angle < 57; angle++ {
			down, err := scatter(upper, lower, material.LiquidFilm, material.L, angle)
			if err != nil {
				return 0, err
			}
			back := material.Refract(angle*degree, upper.Longitudinal, lower.Transverse) / degree
			up, err := scatter(lower, upper, material.LiquidFilm, material.T, back)
			if err != nil {
				return 0, err
			}
			worst = max(worst, math.Abs(down.Energy.Transmitted[material.T]-up.Energy.Transmitted[material.L]))
		}
		return worst, nil
	}
}
