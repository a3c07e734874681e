// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// anisotropy checks waves in crystals and in weld metal.
func anisotropy() []check {
	const ql, qt1, qt2 = material.QL, material.QT1, material.QT2
	sin30, cos30 := math.Sincos(30 * degree)
	sin40, cos40 := math.Sincos(40 * degree)
	slanted := r3.Vec{X: cos30 * cos40, Y: -sin30 * cos40, Z: sin40}
	return []check{
		{"olivine, azimuth 30°, inclination 40°: qL", published, "CIJ.jl, test/velocities.jl", "8557.0", "m/s", 0.06, phase("olivine", slanted, ql)},
		{"olivine, the same: qT1", published, "CIJ.jl, test/velocities.jl", "5367.3", "m/s", 0, phase("olivine", slanted, qt1)},
		{"olivine, the same: qT2", published, "CIJ.jl, test/velocities.jl", "4625.1", "m/s", 0, phase("olivine", slanted, qt2)},
		{"stishovite along [001]: qL", published, "Mainprice 2007, figure 3", "13500", "m/s", 100, phase("stishovite", r3.Vec{Z: 1}, ql)},
		{"stishovite along [100]: qT1", published, "Mainprice 2007, figure 3", "8400", "m/s", 100, phase("stishovite", r3.Vec{X: 1}, qt1)},
		{"iron along [111]: qL", closedForm, "Musgrave 1970, ch. 7: √((C11 + 2C12 + 4C44)/3ρ)", "6452.511", "m/s", 0,
			phase("iron", r3.Vec{X: 1, Y: 1, Z: 1}, ql)},
		{"nickel along [110]: qT2", closedForm, "Musgrave 1970, ch. 7: √((C11 − C12)/2ρ)", "2359.667", "m/s", 0,
			phase("nickel", r3.Vec{X: 1, Y: 1}, qt2)},
		{"gallium arsenide along [100]: qL", closedForm, "Musgrave 1970, ch. 7: √(C11/ρ)", "4731.335", "m/s", 0,
			phase("gallium arsenide", r3.Vec{X: 1}, ql)},
		{"weld metal, front at 15° from the grain: energy of qL", calculated, "NumPy, eigenvalues", "28.024", "°", 0, energyDirection(15, false)},
		{"weld metal, front at 75° from the grain: energy of qSV", calculated, "NumPy, eigenvalues", "107.736", "°", 0, energyDirection(75, true)},
		{"weld metal, sum of ρv² over the waves, largest defect", identity, "algebra, trace of Christoffel's matrix", "0", "", 1e-12, traceDefect},
		{"weld metal, group velocity along the front less phase speed", identity, "Musgrave 1970, ch. 8", "0", "m/s", 1e-8, groupDefect},
		{"polycrystal of iron, L", published, "ASTM E494, Table X3.1, electrolytic iron", "5960", "m/s", 180, hill("iron", material.L)},
		{"polycrystal of iron, T", published, "ASTM E494, Table X3.1, electrolytic iron", "3220", "m/s", 97, hill("iron", material.T)},
		{"polycrystal of aluminium, L", published, "ASTM E494, Table X3.1", "6300", "m/s", 189, hill("aluminium", material.L)},
		{"polycrystal of austenitic steel, L", published, "ASTM E494, Table X3.1, grade 347", "5790", "m/s", 174, hill("austenitic steel Fe-18Cr-8Ni", material.L)},
		{"polycrystal of austenitic steel, T", published, "ASTM E494, Table X3.1, grade 347", "3100", "m/s", 93, hill("austenitic steel Fe-18Cr-8Ni", material.T)},
		{"polycrystal of copper, T", published, "CRC, Table 1, annealed", "2325", "m/s", 70, hill("copper", material.T)},
		{"parent on weld metal, sum of energies, largest defect", identity, "algebra, conservation of energy", "0", "", 1e-9, anisotropicDefect},
	}
}

const weldMetal = "weld metal X6CrNi18-11"

// waves returns the waves of a crystal whose fronts travel along n.
func waves(name string, n r3.Vec) (w [3]material.PlaneWave, density float64, err error) {
	crystal, err := material.FindCrystal(name)
	if err != nil {
		return w, 0, err
	}
	c, err := material.NewChristoffel(crystal.Medium)
	if err != nil {
		return w, 0, err
	}
	w, err = c.Phase(n)
	return w, crystal.Medium.Density, err
}

// phase returns a phase speed in m/s.
func phase(name string, n r3.Vec, sheet material.Sheet) func() (float64, error) {
	return func() (float64, error) {
		w, _, err := waves(name, n)
		return w[sheet].Speed, err
	}
}

// fromGrain returns the unit vector at an angle in degrees from the axis z towards x.
func fromGrain(angle float64) r3.Vec {
	sin, cos := math.Sincos(angle * degree)
	return r3.Vec{X: sin, Z: cos}
}

// energyDirection returns the direction of the energy of qL or of qSV in weld metal, in degrees
// from the grain axis, for a front at an angle from the axis.
func energyDirection(angle float64, transverse bool) func() (float64, error) {
	return func() (float64, error) {
		w, _, err := waves(weldMetal, fromGrain(angle))
		if err != nil {
			return 0, err
		}
		wave := w[material.QL]
		if transverse {
			wave = w[material.QT1]
			if math.Abs(wave.Polarisation.Y) > 0.5 { // SH
				wave = w[material.QT2]
			}
		}
		return math.Atan2(wave.Group.X, wave.Group.Z) / degree, nil
	}
}

// traceDefect returns the largest relative deviation of Σρv² from the trace of Christoffel's
// matrix of weld metal, (C11 + C44 + C66)·sin² + (C33 + 2·C44)·cos², over directions.
func traceDefect() (worst float64, err error) {
	const c11, c12, c33, c44 = 241.1e9, 96.91e9, 240.12e9, 112.29e9 // Spies, from memory
	for angle := 0.0; angle <= 90; angle += 5 {
		w, density, err := waves(weldMetal, fromGrain(angle))
		if err != nil {
			return 0, err
		}
		sum := 0.0
		for _, wave := range w {
			sum += density * wave.Speed * wave.Speed
		}
		sin, cos := math.Sincos(angle * degree)
		trace := (c11+c44+(c11-c12)/2)*sin*sin + (c33+2*c44)*cos*cos
		worst = max(worst, math.Abs(sum/trace-1))
	}
	return worst, nil
}

// groupDefect returns the largest difference in m/s between the phase speed and the component of
// the group velocity along the normal of the front.
func groupDefect() (worst float64, err error) {
	for angle := 1.0; angle < 90; angle += 4 {
		w, _, err := waves(weldMetal, fromGrain(angle))
		if err != nil {
			return 0, err
		}
		for _, wave := range w {
			worst = max(worst, math.Abs(r3.Dot(wave.Group, wave.Normal)-wave.Speed))
		}
	}
	return worst, nil
}

// hill returns a speed of the polycrystal of a crystal.
func hill(name string, mode material.Mode) func() (float64, error) {
	return func() (float64, error) {
		crystal, err := material.FindCrystal(name)
		if err != nil {
			return 0, err
		}
		m, err := crystal.Medium.Hill()
		return m.Speed(mode), err
	}
}

// anisotropicDefect returns the largest deviation of the sum of energies from 1 at a face between
// steel and weld metal, over slownesses.
func anisotropicDefect() (worst float64, err error) {
	crystal, err := material.FindCrystal(weldMetal)
	if err != nil {
		return 0, err
	}
	b, err := material.NewAnisotropicBoundary(blockSteel, crystal.Medium, material.Welded)
	if err != nil {
		return 0, err
	}
	for i := range 30 {
		s, err := b.Scatter(r2.Vec{X: 1e-5 * float64(i), Y: 2e-5})
		if err != nil {
			return 0, err
		}
		for _, energies := range s.Energy {
			sum := 0.0
			for _, e := range energies {
				sum += e
			}
			worst = max(worst, math.Abs(sum-1))
		}
	}
	return worst, nil
}
