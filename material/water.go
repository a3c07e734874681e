// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"iter"
)

// A WaterEquation is a published polynomial for the speed of sound in pure
// water (distilled, free of bubbles, at atmospheric pressure) against
// temperature in °C.
//
// Between 0 °C and 95 °C the five modern fits (all but [GreenspanTschiegg] and
// the two short ones of Lubbers and Graaff) agree within 0.05 m/s; the change of
// temperature scale from IPTS-68 to ITS-90 is worth 0.02 m/s at most.
// [GreenspanTschiegg] lies 0.3 m/s above them throughout. Sea water is out of
// the scope of this package.
type WaterEquation uint8

// The equations. [Marczak] is the one to use unless a procedure names another.
const (
	Marczak           WaterEquation = iota // 0 °C to 95 °C, ITS-90
	BilaniukWong148                        // 0 °C to 100 °C, ITS-90, fit to 148 points
	BilaniukWong112                        // 0 °C to 100 °C, fit to 112 points
	BilaniukWong36                         // 0 °C to 100 °C, fit to 36 points
	DelGrossoMader                         // 0 °C to 95 °C, IPTS-68, ±0.015 m/s
	GreenspanTschiegg                      // 0 °C to 100 °C, 0.3 m/s above the others
	LubbersGraaff35                        // 15 °C to 35 °C, within 0.18 m/s
	LubbersGraaff40                        // 10 °C to 40 °C, within 0.18 m/s
	waterEquationCount
)

// waterEquations holds the coefficients k of c = Σ k[i]·tⁱ, t in °C, c in m/s.
//
// A copy of Marczak's polynomial with −5.779136e-2 in place of −5.799136e-2
// circulates; it is 0.5 m/s too fast at 50 °C.
var waterEquations = [waterEquationCount]struct {
	name      string
	k         [6]float64
	low, high float64
	source    string
}{
	Marczak: {
		"Marczak", [6]float64{1402.385, 5.038813, -5.799136e-2, 3.287156e-4, -1.398845e-6, 2.787860e-9}, 0, 95,
		"Marczak, J. Acoust. Soc. Am. 102 (1997) 2776",
	},
	BilaniukWong148: {
		"Bilaniuk-Wong, 148 points", [6]float64{1402.38744, 5.03836171, -5.81172916e-2, 3.34638117e-4, -1.48259672e-6, 3.16585020e-9}, 0, 100,
		"Bilaniuk and Wong, J. Acoust. Soc. Am. 93 (1993) 1609, erratum 99 (1996) 3257",
	},
	BilaniukWong112: {
		"Bilaniuk-Wong, 112 points", [6]float64{1402.38742, 5.03821344, -5.80539349e-2, 3.32000870e-4, -1.44537900e-6, 2.99402365e-9}, 0, 100,
		"Bilaniuk and Wong, J. Acoust. Soc. Am. 93 (1993) 1609, erratum 99 (1996) 3257",
	},
	BilaniukWong36: {
		"Bilaniuk-Wong, 36 points", [6]float64{1402.38677, 5.03798765, -5.80980033e-2, 3.34296650e-4, -1.47936902e-6, 3.14893508e-9}, 0, 100,
		"Bilaniuk and Wong, J. Acoust. Soc. Am. 93 (1993) 1609, erratum 99 (1996) 3257",
	},
	DelGrossoMader: {
		"Del Grosso-Mader", [6]float64{1402.38754, 5.03711129, -5.80852166e-2, 3.34198834e-4, -1.47800417e-6, 3.14643091e-9}, 0, 95,
		"from memory of Del Grosso and Mader, J. Acoust. Soc. Am. 52 (1972) 1442",
	},
	GreenspanTschiegg: {
		"Greenspan-Tschiegg", [6]float64{1402.736, 5.03358, -0.0579506, 3.31636e-4, -1.45262e-6, 3.0449e-9}, 0, 100,
		"Greenspan and Tschiegg, J. Acoust. Soc. Am. 31 (1959) 75",
	},
	LubbersGraaff35: {
		"Lubbers-Graaff, 15 °C to 35 °C", [6]float64{1404.3, 4.7, -0.04}, 15, 35,
		"Lubbers and Graaff, Ultrasound Med. Biol. 24 (1998) 1065",
	},
	LubbersGraaff40: {
		"Lubbers-Graaff, 10 °C to 40 °C", [6]float64{1405.03, 4.624, -0.0383}, 10, 40,
		"Lubbers and Graaff, Ultrasound Med. Biol. 24 (1998) 1065",
	},
}

// WaterEquations yields all equations in the order of their constants.
func WaterEquations() iter.Seq[WaterEquation] {
	return func(yield func(WaterEquation) bool) {
		for e := range waterEquationCount {
			if !yield(e) {
				return
			}
		}
	}
}

// Speed returns the speed of sound in m/s at a temperature in °C. The error is
// that of a temperature outside [WaterEquation.Range], or of an e that is none
// of the constants.
func (e WaterEquation) Speed(celsius float64) (float64, error) {
	if err := e.check(celsius); err != nil {
		return 0, err
	}
	k := &waterEquations[e].k
	var c float64
	for i := len(k) - 1; i >= 0; i-- {
		c = c*celsius + k[i]
	}
	return c, nil
}

// Slope returns the change of the speed of sound with temperature, in m/s per
// K, at a temperature in °C. Its errors are those of [WaterEquation.Speed].
func (e WaterEquation) Slope(celsius float64) (float64, error) {
	if err := e.check(celsius); err != nil {
		return 0, err
	}
	k := &waterEquations[e].k
	var slope float64
	for i := len(k) - 1; i > 0; i-- {
		slope = slope*celsius + float64(i)*k[i]
	}
	return slope, nil
}

// Range returns the lowest and the highest temperature in °C that e was fitted
// to. It is 0, 0 for an e that is none of the constants.
func (e WaterEquation) Range() (low, high float64) {
	if e >= waterEquationCount {
		return 0, 0
	}
	return waterEquations[e].low, waterEquations[e].high
}

// Source returns the publication of e, or "" for an e that is none of the
// constants.
func (e WaterEquation) Source() string {
	if e >= waterEquationCount {
		return ""
	}
	return waterEquations[e].source
}

// String returns the authors of e.
func (e WaterEquation) String() string {
	if e >= waterEquationCount {
		return fmt.Sprintf("WaterEquation(%d)", uint8(e))
	}
	return waterEquations[e].name
}

func (e WaterEquation) check(celsius float64) error {
	if e >= waterEquationCount {
		return fmt.Errorf("material: water equation %d: want one of the named constants, 0 to %d", uint8(e), waterEquationCount-1)
	}
	low, high := e.Range()
	return checkWaterTemperature(celsius, low, high)
}

func checkWaterTemperature(celsius, low, high float64) error {
	if !(celsius >= low && celsius <= high) {
		return fmt.Errorf("material: water temperature %v °C: want %v °C to %v °C", celsius, low, high)
	}
	return nil
}

// Water returns pure water at atmospheric pressure and a temperature in °C, from
// 0 °C to 95 °C, with the speed of [Marczak] and the density of [WaterDensity].
// The error is that of a temperature out of range.
func Water(celsius float64) (Isotropic, error) {
	speed, err := Marczak.Speed(celsius)
	if err != nil {
		return Isotropic{}, err
	}
	density, err := WaterDensity(celsius)
	if err != nil {
		return Isotropic{}, err
	}
	return Isotropic{Density: density, Longitudinal: speed}, nil
}

// WaterDensity returns the density in kg/m³ of pure air-free water at
// atmospheric pressure and a temperature in °C, from 0 °C to 100 °C (from memory
// of Kell, J. Chem. Eng. Data 20, 1975, 97). It agrees with the IAPWS-95
// formulation within 0.015 kg/m³. The error is that of a temperature out of
// range.
func WaterDensity(celsius float64) (float64, error) {
	if err := checkWaterTemperature(celsius, 0, 100); err != nil {
		return 0, err
	}
	t := celsius
	above := 999.83952 + t*(16.945176+t*(-7.9870401e-3+t*(-46.170461e-6+t*(105.56302e-9-t*280.54253e-12))))
	return above / (1 + 16.879850e-3*t), nil
}

// WaterAttenuation returns the law of pure water, which goes with f², at a
// temperature in °C from 0 °C to 95 °C. The coefficient is the pure-water term
// of the sea-water equation of Francois and Garrison (from memory of J. Acoust.
// Soc. Am. 72, 1982, 1879):
//
//	t ≤ 20 °C: 4.937e-4 − 2.59e-5·t + 9.11e-7·t² − 1.50e-8·t³
//	t > 20 °C: 3.964e-4 − 1.146e-5·t + 1.45e-7·t² − 6.5e-10·t³
//
// in dB/km/kHz². Published measurements differ from one another, and from it,
// by up to 20 %. The error is that of a temperature out of range.
func WaterAttenuation(celsius float64) (Attenuation, error) {
	if err := checkWaterTemperature(celsius, 0, 95); err != nil {
		return nil, err
	}
	t := celsius
	a := 3.964e-4 + t*(-1.146e-5+t*(1.45e-7-t*6.5e-10))
	if t <= 20 {
		a = 4.937e-4 + t*(-2.59e-5+t*(9.11e-7-t*1.50e-8))
	}
	const perMetre = 1e3 // from dB/km/kHz² to dB/m at 1 MHz
	return Attenuation{{Alpha: a * perMetre / DecibelsPerNeper, Frequency: 1e6, Exponent: 2}}, nil
}
