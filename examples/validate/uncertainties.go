// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat"

	"github.com/isochron-imaging/isochron/sizing/uncertainty"
)

// uncertainties checks budgets of uncertainty with the examples of the GUM.
func uncertainties() []check {
	const gum = "GUM, example "
	return []check{
		{"end gauge, combined standard uncertainty", published, gum + "H.1, inputs from memory", "32", "nm", 0,
			endGauge(func(b *uncertainty.Budget) float64 { return b.Uncertainty })},
		{"end gauge, effective degrees of freedom, cut off", published, gum + "H.1, inputs from memory", "16", "", 1,
			endGauge(func(b *uncertainty.Budget) float64 { return b.DegreesOfFreedom })},
		{"end gauge, expanded uncertainty, 99 %, from the rounded 32 nm", published, gum + "H.1, inputs from memory", "93", "nm", 0.55,
			endGauge(func(b *uncertainty.Budget) float64 { return b.Result(0.99).Expanded })},
		{"impedance, resistance", published, gum + "H.2", "127.732", "Ω", 0, impedance(resistance, value)},
		{"impedance, uncertainty of the resistance", published, gum + "H.2, from rounded inputs", "0.070", "Ω", 0.0015, impedance(resistance, spread)},
		{"impedance, reactance", published, gum + "H.2", "219.85", "Ω", 0, impedance(reactance, value)},
		{"impedance, uncertainty of the reactance", published, gum + "H.2", "0.30", "Ω", 0, impedance(reactance, spread)},
		{"impedance, modulus", published, gum + "H.2", "254.26", "Ω", 0, impedance(modulus, value)},
		{"impedance, uncertainty of the modulus", published, gum + "H.2", "0.24", "Ω", 0, impedance(modulus, spread)},
		{"impedance, correlation of resistance and modulus", published, gum + "H.2", "-0.49", "", 0, correlationOfResults(resistance, modulus)},
		{"impedance, correlation of reactance and modulus", published, gum + "H.2", "0.99", "", 0, correlationOfResults(reactance, modulus)},
		{"thermometer, correction at 30 °C", published, gum + "H.3", "-0.1494", "°C", 0, thermometer(value)},
		{"thermometer, its uncertainty", published, gum + "H.3", "0.0041", "°C", 0, thermometer(spread)},
		{"four rectangular quantities, half of 95 %", published, "GUM Supplement 1, table, from memory", "3.88", "", 0.03, rectangles},
		{"factor for 95 %, 4 degrees of freedom", published, "GUM, table G.2, from memory", "2.78", "", 0, exactly(func() float64 { return uncertainty.CoverageFactor(0.95, 4) })},
		{"factor for 95 %, 19 degrees of freedom", published, "GUM, table G.2, from memory", "2.09", "", 0, exactly(func() float64 { return uncertainty.CoverageFactor(0.95, 19) })},
		{"factor for 95.45 %, 10 degrees of freedom", published, "GUM, table G.2, from memory", "2.28", "", 0, exactly(func() float64 { return uncertainty.CoverageFactor(0.9545, 10) })},
		{"factor for 95 %, 50 degrees of freedom", published, "GUM, table G.2, from memory", "2.01", "", 0, exactly(func() float64 { return uncertainty.CoverageFactor(0.95, 50) })},
	}
}

func value(b *uncertainty.Budget) float64  { return b.Value }
func spread(b *uncertainty.Budget) float64 { return b.Uncertainty }

// endGauge returns the budget of example H.1.
func endGauge(of func(*uncertainty.Budget) float64) func() (float64, error) {
	return func() (float64, error) {
		part := func(name string, u, freedom, sensitivity float64) uncertainty.Contribution {
			q := uncertainty.Quantity{Name: name, Uncertainty: u, DegreesOfFreedom: freedom}
			return uncertainty.Contribution{Quantity: q, Sensitivity: sensitivity}
		}
		b, err := uncertainty.Combine("length", "nm", 50000838, []uncertainty.Contribution{
			part("standard", 25, 18, 1), part("difference", 9.7, 25.6, 1),
			part("difference of expansion", 2.9, 50, 1), part("difference of temperature", 16.6, 2, -1),
		}, nil)
		if err != nil {
			return 0, err
		}
		return of(b), nil
	}
}

// The results of example H.2: functions of voltage, current and phase.
func resistance(x []float64) float64 { return x[0] / x[1] * math.Cos(x[2]) }
func reactance(x []float64) float64  { return x[0] / x[1] * math.Sin(x[2]) }
func modulus(x []float64) float64    { return x[0] / x[1] }

// impedance returns the budget of a result of example H.2, from its five sets of readings.
func impedance(f func([]float64) float64, of func(*uncertainty.Budget) float64) func() (float64, error) {
	return func() (float64, error) {
		v := []float64{5.007, 4.994, 5.005, 4.990, 4.999}
		i := []float64{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}
		phi := []float64{1.0456, 1.0438, 1.0468, 1.0428, 1.0433}
		b, err := uncertainty.Propagate("result", "Ω", f, []uncertainty.Quantity{
			uncertainty.Readings("V", v...), uncertainty.Readings("I", i...), uncertainty.Readings("phi", phi...),
		}, []uncertainty.Correlation{
			{A: "V", B: "I", R: stat.Correlation(v, i, nil)}, {A: "V", B: "phi", R: stat.Correlation(v, phi, nil)},
			{A: "I", B: "phi", R: stat.Correlation(i, phi, nil)},
		})
		if err != nil {
			return 0, err
		}
		return of(b), nil
	}
}

// correlationOfResults returns the correlation coefficient of two results of example H.2, from the
// variance of their sum.
func correlationOfResults(f, g func([]float64) float64) func() (float64, error) {
	return func() (float64, error) {
		a, errA := impedance(f, spread)()
		b, errB := impedance(g, spread)()
		sum, err := impedance(func(x []float64) float64 { return f(x) + g(x) }, spread)()
		if errA != nil || errB != nil {
			return 0, errors.Join(errA, errB)
		}
		return (sum*sum - a*a - b*b) / (2 * a * b), err
	}
}

// thermometer returns the budget of example H.3.
func thermometer(of func(*uncertainty.Budget) float64) func() (float64, error) {
	return func() (float64, error) {
		b, err := uncertainty.Combine("correction", "°C", -0.1712+10*0.00218, []uncertainty.Contribution{
			{Quantity: uncertainty.Quantity{Name: "intercept", Uncertainty: 0.0029, DegreesOfFreedom: 9}, Sensitivity: 1},
			{Quantity: uncertainty.Quantity{Name: "slope", Uncertainty: 0.00067, DegreesOfFreedom: 9}, Sensitivity: 10},
		}, []uncertainty.Correlation{{A: "intercept", B: "slope", R: -0.930}})
		if err != nil {
			return 0, err
		}
		return of(b), nil
	}
}

// rectangles returns half of the interval of 95 % of the sum of four rectangular quantities of
// unit variance.
func rectangles() (float64, error) {
	var all []uncertainty.Quantity
	for _, name := range []string{"a", "b", "c", "d"} {
		all = append(all, uncertainty.Limits(name, 0, math.Sqrt(3), uncertainty.Rectangular))
	}
	sum := func(x []float64) float64 { return x[0] + x[1] + x[2] + x[3] }
	d, err := uncertainty.MonteCarlo(sum, all, nil, &uncertainty.MonteCarloOptions{Trials: 100000, Seed: 2})
	if err != nil {
		return 0, err
	}
	low, high := d.Interval(0.95)
	return (high - low) / 2, nil
}
