// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/beam"
)

// beams checks near fields, beam spread, grating lobes and the directivity of elements.
func beams() []check {
	// A disc of 10 mm in steel of 5920 m/s.
	disc := func(megahertz float64) beam.Disc {
		return beam.Disc{Diameter: 10e-3, Wavelength: 5920 / (megahertz * 1e6)}
	}
	thin := beam.Disc{Diameter: 10e-3, Wavelength: 1e-3}
	strip := beam.Strip{Width: 10e-3, Wavelength: 1e-3}
	half := func(megahertz float64) func() (float64, error) {
		return exactly(func() float64 { return disc(megahertz).HalfAngle(beam.FirstZero) / degree })
	}
	factor := func(level beam.Level) func() (float64, error) { // of λ/D
		return exactly(func() float64 { return math.Sin(thin.HalfAngle(level)) * 10 })
	}
	side := func(level beam.Level) func() (float64, error) { // of λ/W
		return exactly(func() float64 { return math.Sin(strip.HalfAngle(level)) * 10 })
	}
	force := func(m material.Isotropic, mode material.Mode, angle float64) func() (float64, error) {
		return exactly(func() float64 { return cmplx.Abs(beam.LineForce(m, mode, angle*degree)) })
	}
	two := material.Isotropic{Density: 1, Longitudinal: 2, Transverse: 1}
	return []check{
		{"near field of a disc, 10 mm, 4 MHz, steel", published, "NDT formulas, near field", "16.892", "mm", 0,
			exactly(func() float64 { return disc(4).NearField() * 1e3 })},
		{"half angle of the first zero, 10 mm, 2 MHz", published, "NDT formulas, beam spread", "21.17", "°", 0.012, half(2)},
		{"half angle of the first zero, 10 mm, 4 MHz", published, "NDT formulas, beam spread", "10.40", "°", 0, half(4)},
		{"half angle of the first zero, 10 mm, 8 MHz", published, "NDT formulas, beam spread", "5.18", "°", 0.012, half(8)},
		{"disc, 6 dB in pulse-echo: factor of λ/D", published, "PCN notes, beam spread", "0.514", "", 0, factor(beam.HalfPulseEcho)},
		{"disc, 20 dB in pulse-echo: factor of λ/D", published, "PCN notes, k20", "0.87", "", 0, factor(beam.PulseEcho(-20))},
		{"disc, 20 dB in one pass: factor of λ/D (cut off)", published, "PCN notes, beam spread", "1.08", "", 0.01, factor(beam.OneWay(-20))},
		{"disc, first zero: factor of λ/D", closedForm, "Rayleigh 1885, zero of J₁ over π", "1.219669891", "", 0, factor(beam.FirstZero)},
		{"rectangle, 6 dB in pulse-echo: factor of λ/L", published, "PCN notes, beam spread", "0.44", "", 0, side(beam.HalfPulseEcho)},
		{"strip, 6 dB in one pass: factor of λ/W", calculated, "mpmath, root of the sinc", "0.603354564402", "", 0, side(beam.HalfOneWay)},
		{"strip, first zero: factor of λ/W", closedForm, "algebra, zero of the sinc", "1", "", 1e-12, side(beam.FirstZero)},
		{"disc, first side lobe", calculated, "mpmath", "-17.57015", "dB", 0,
			exactly(func() float64 { return highestSideLobe(thin.Directivity) })},
		{"strip, first side lobe", calculated, "mpmath", "-13.261459", "dB", 0,
			exactly(func() float64 { return highestSideLobe(strip.Directivity) })},
		{"disc, last maximum on the axis over R²/λ", published, "doi 10.1121/1.1903238, abstract", "1", "", 0.02,
			exactly(func() float64 { return lastMaximum(disc(10)) / (25e-6 / 0.592e-3) })},
		{"disc, pressure at (D² − λ²)/(4λ) on the axis", closedForm, "Krautkrämer 1990, axial pressure", "2", "", 1e-12, exactly(func() float64 {
			d := disc(5)
			return d.Axial((d.Diameter*d.Diameter - d.Wavelength*d.Wavelength) / (4 * d.Wavelength))
		})},
		{"disc, depth of focus in λ(F/D)²", published, "textbooks, from memory", "7.1", "", 0,
			exactly(func() float64 { return thin.FocalDepth(20e-3, beam.HalfPulseEcho) / 4e-3 })},
		{"square probe, near field in L²/(4λ)", published, "EN 12668-2, table, from memory", "1.37", "", 0,
			exactly(func() float64 { return beam.RectangleNearField(10e-3, 10e-3, 1e-3) / 25e-3 })},
		{"rectangle 2:1, near field in L²/(4λ)", published, "EN 12668-2, table, from memory", "1.01", "", 0,
			exactly(func() float64 { return beam.RectangleNearField(10e-3, 5e-3, 1e-3) / 25e-3 })},
		{"largest pitch without grating lobes, 30°, in λ", closedForm, "algebra, λ/(1 + sin θ)", "0.666666667", "", 0,
			exactly(func() float64 { return beam.MaxPitch(1e-3, 30*degree) / 1e-3 })},
		{"grating lobe, pitch 1 mm, λ 1.184 mm, 30°", closedForm, "algebra, sin θ − λ/p", "-43.15701", "°", 0, firstLobe(1e-3, 1.184e-3, 30)},
		{"line force, ν = 1/4, L at 60° over L at 0°", closedForm, "Miller 1954, exact point", "0.5", "", 1e-12, force(quarterSolid, material.L, 60)},
		{"line force, cL/cT = 2, T at 45°", closedForm, "Miller 1954, exact point: κ²/√(2κ)", "2", "", 1e-12, force(two, material.T, 45)},
		{"line force, cL/cT = 2, T at the critical angle", closedForm, "Miller 1954, exact point", "0", "", 1e-6, force(two, material.T, 30)},
		{"line force on steel, L at 70° over L at 0°", calculated, "mpmath, formulas of Miller 1954", "0.40962577", "", 0, force(blockSteel, material.L, 70)},
	}
}

// highestSideLobe returns the level of the first side lobe in dB, by a fine scan of the angle.
func highestSideLobe(directivity func(float64) float64) float64 {
	const n = 200000
	highest, beyond := 0.0, false
	for i := range n {
		d := directivity(math.Asin(0.25 * float64(i) / n))
		if beyond = beyond || d < 0; beyond {
			highest = max(highest, -d)
		}
	}
	return 20 * math.Log10(highest)
}

// lastMaximum returns the distance of the last maximum on the axis of a disc, by a fine scan.
func lastMaximum(d beam.Disc) float64 {
	z := 3 * d.NearField()
	step := z / 1e5
	for d.Axial(z-step) > d.Axial(z) {
		z -= step
	}
	return z
}

// firstLobe returns the angle in degrees of the only grating lobe of an array.
func firstLobe(pitch, wavelength, steer float64) func() (float64, error) {
	return func() (float64, error) {
		lobes := slices.Collect(beam.GratingLobes(pitch, wavelength, steer*degree))
		if len(lobes) != 1 {
			return 0, fmt.Errorf("%d grating lobes, want 1", len(lobes))
		}
		return lobes[0] / degree, nil
	}
}
