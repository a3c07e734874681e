// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "fmt"

// waterSpeed holds the coefficients k of the speed of sound in pure water, c = Σ k[i]·tⁱ in m/s
// with t in °C, from 0 °C to 95 °C (ITS-90): Marczak, J. Acoust. Soc. Am. 102 (1997) 2776.
//
// A copy of the polynomial with −5.779136e-2 in place of −5.799136e-2 circulates. At 50 °C that
// copy is 0.5 m/s too fast.
var waterSpeed = [6]float64{
	1402.385, 5.038813, -5.799136e-2, 3.287156e-4, -1.398845e-6, 2.787860e-9,
}

// Water returns pure water (distilled, without bubbles) at atmospheric pressure and a temperature
// in °C, from 0 °C to 95 °C. The error names a temperature outside that range.
//
// The speed is Marczak's fit to measurements (J. Acoust. Soc. Am. 102, 1997, 2776). Four other fits
// of 1972 to 1996 agree with it within 0.05 m/s over the whole range; the fit of Greenspan and
// Tschiegg (1959) is 0.3 m/s faster. The speed rises by 3.07 m/s per K at 20 °C and is greatest,
// 1555.14 m/s, at 74.17 °C.
//
// The density is from memory of Kell, J. Chem. Eng. Data 20 (1975) 97, and agrees with the IAPWS-95
// formulation within 0.015 kg/m³.
func Water(celsius float64) (Isotropic, error) {
	if err := checkWaterTemperature(celsius); err != nil {
		return Isotropic{}, err
	}
	speed := polynomial(waterSpeed, celsius)
	return Isotropic{Density: waterDensity(celsius), Longitudinal: speed}, nil
}

// waterDensity returns the density in kg/m³ of pure water without air at t °C.
func waterDensity(t float64) float64 {
	k := [6]float64{
		999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12,
	}
	return polynomial(k, t) / (1 + 16.879850e-3*t)
}

// polynomial returns Σ k[i]·xⁱ.
func polynomial(k [6]float64, x float64) float64 {
	var sum float64
	for i := len(k) - 1; i >= 0; i-- {
		sum = sum*x + k[i]
	}
	return sum
}

// WaterAttenuation returns the attenuation of pure water, which is proportional to the square of
// the frequency, at a temperature t in °C from 0 °C to 95 °C. The coefficient is the term of pure
// water in the equation of Francois and Garrison for sea water (from memory of J. Acoust. Soc. Am.
// 72, 1982, 1879):
//
//	t ≤ 20 °C: 4.937e-4 − 2.59e-5·t + 9.11e-7·t² − 1.50e-8·t³
//	t > 20 °C: 3.964e-4 − 1.146e-5·t + 1.45e-7·t² − 6.5e-10·t³
//
// in dB/km/kHz². Published measurements differ from each other, and from this equation, by up to
// 20 %. The error names a temperature outside the range.
func WaterAttenuation(celsius float64) (Attenuation, error) {
	if err := checkWaterTemperature(celsius); err != nil {
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

func checkWaterTemperature(celsius float64) error {
	if !(celsius >= 0 && celsius <= 95) {
		return fmt.Errorf("material: water temperature %v °C: want 0 °C to 95 °C", celsius)
	}
	return nil
}
