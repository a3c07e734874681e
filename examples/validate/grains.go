// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge/graded"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// grains checks times through graded and anisotropic parts.
func grains() []check {
	read := once(readGrains)
	return []check{
		{"speed that rises linearly with depth, steel", closedForm, "algebra, acosh(1 + g²d²/2c₁c₂)/g", "10.415488598261", "µs", 1e-4, linear(5.9, 0.01, 40, 50)},
		{"speed that rises linearly with depth, water", closedForm, "algebra, acosh(1 + g²d²/2c₁c₂)/g", "26.893610515947", "µs", 1e-4, linear(1.48, 0.02, 30, 40)},
		{"weld metal, group speed along 28.024° from the grain, qL", calculated, "NumPy, eigenvalues", "5915.67", "m/s", 0.02, groupSpeed(graded.QuasiLongitudinal, 28.024)},
		{"weld metal, group speed along 45.070° from the grain, qL", calculated, "NumPy, eigenvalues", "6210.41", "m/s", 0.02, groupSpeed(graded.QuasiLongitudinal, 45.070)},
		{"weld, first qL, number of times that were read", fullWave, "full wave, grain32_times: times that are not null", "467", "", 0, func() (float64, error) {
			errs, err := read()
			return float64(len(errs)), err
		}},
		{"weld, first qL, median of the errors", fullWave, "full wave, grain32_times: half a sample of 20 ns", "0", "ns", 10, quantileOf(read, 0.5)},
		{"weld, first qL, 90 % of the errors", fullWave, "full wave, grain32_times: three samples", "0", "ns", 60, quantileOf(read, 0.9)},
	}
}

// linear returns the time in µs to (x, z) in mm in a medium with the speed c + g·z in mm/µs.
func linear(c, g, x, z float64) func() (float64, error) {
	return func() (float64, error) {
		m := material.Isotropic{Density: 7850, Longitudinal: c * 1e3, Transverse: c * 500}
		medium, err := graded.NewLinear(m, r3.Vec{}, r3.Vec{Z: g / c * 1e3})
		if err != nil {
			return 0, err
		}
		part := &graded.Part{Entry: horizontal(0), Media: []graded.Medium{medium}}
		ray, err := part.Ray(graded.QuasiLongitudinal, r3.Vec{}, mm(x, z), nil)
		return ray.Time * 1e6, err
	}
}

// groupSpeed returns the group speed in m/s in weld metal along an angle in degrees from the
// grain. The grain axis lies along z.
func groupSpeed(pol graded.Polarisation, angle float64) func() (float64, error) {
	return func() (float64, error) {
		crystal, err := material.FindCrystal(weldMetal)
		if err != nil {
			return 0, err
		}
		curves, err := graded.NewSlownessCurves(crystal.Medium)
		if err != nil {
			return 0, err
		}
		block := &graded.Block{Entry: horizontal(0), Curves: curves, Axis: math.Pi / 2}
		to := r3.Scale(30e-3, fromGrain(angle))
		all, err := block.Rays(pol, r3.Vec{}, to)
		if err == nil && len(all) == 0 {
			err = errors.New("no ray")
		}
		if err != nil {
			return 0, err
		}
		return 30e-3 / all[0].Time, nil
	}
}

// readGrains returns the sorted absolute errors in s of the first qL wave through the weld of the
// file of full-wave times.
func readGrains() ([]float64, error) {
	const name = "testdata/austenitic/grain32_times.json"
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	var file struct {
		Elements []float64    `json:"elements_x_m"`
		Points   [][2]float64 `json:"points_m"`
		Times    [][]*float64 `json:"times_s"`
	}
	if err := json.Unmarshal(text, &file); err != nil {
		return nil, err
	}
	part, err := vWeld()
	if err != nil {
		return nil, err
	}
	var elements, points []r3.Vec
	for _, x := range file.Elements {
		elements = append(elements, r3.Vec{X: x})
	}
	for _, p := range file.Points {
		points = append(points, r3.Vec{X: p[0], Z: p[1]})
	}
	table, err := part.Times(context.Background(), graded.QuasiLongitudinal, elements, points, nil)
	if err != nil {
		return nil, err
	}
	var errs []float64
	for e := range elements {
		for i := range points {
			if t := file.Times[e][i]; t != nil {
				errs = append(errs, math.Abs(float64(table.Seconds[e*len(points)+i])-*t))
			}
		}
	}
	slices.Sort(errs) // NaN first, so that a missing ray is not hidden
	if math.IsNaN(errs[0]) {
		return nil, errors.New("a ray is missing")
	}
	return errs, nil
}

// vWeld returns the weld of grain32: a V of 30°, 6 mm wide at the root, in 30 mm. The stiffness is
// the stiffness of the file.
func vWeld() (*graded.Part, error) {
	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * degree}}
	weld, err := joint.Butt{Thickness: 30e-3, Gap: 6e-3, Left: edge, Right: edge}.Joint()
	if err != nil {
		return nil, err
	}
	metal := material.TransverselyIsotropic{C11: 262.75e9, C12: 98.25e9, C13: 145e9, C33: 216e9, C44: 129e9}
	curves, err := graded.NewSlownessCurves(material.Anisotropic{Density: 8120, Stiffness: metal.Stiffness()})
	if err != nil {
		return nil, err
	}
	law, err := graded.NewGrainLaw(weld, 1, 1)
	if err != nil {
		return nil, err
	}
	return graded.NewWeld(nil, material.Isotropic{Density: 7900, Longitudinal: 5790, Transverse: 3100}, curves, law, weld)
}

// quantileOf returns a quantile of errors in ns.
func quantileOf(read func() ([]float64, error), share float64) func() (float64, error) {
	return func() (float64, error) {
		errs, err := read()
		if err != nil {
			return 0, err
		}
		return errs[int(share*float64(len(errs)-1))] * 1e9, nil
	}
}

// welds checks the geometry of weld preparations.
func welds() []check {
	v := func() (*joint.Joint, error) {
		edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * degree}}
		return joint.Butt{Thickness: 20e-3, Gap: 3e-3, RootFace: 2e-3, Left: edge, Right: edge}.Joint()
	}
	square := func(of func(joint.Beam) float64) func() (float64, error) {
		return func() (float64, error) {
			j, err := v()
			if err != nil {
				return 0, err
			}
			face, _ := j.Face("left bevel")
			beam, err := j.Plate.Square(face, 0.5, 1)
			return of(beam), err
		}
	}
	return []check{
		{"weld metal of a V, 20 mm, 30°, gap 3 mm, root face 2 mm", closedForm, "algebra, 20·3 + 18²·tan 30°", "247.0615", "mm²", 0, func() (float64, error) {
			j, err := v()
			if err != nil {
				return 0, err
			}
			return j.Area() * 1e6, nil
		}},
		{"beam that meets the bevel at a right angle", closedForm, "algebra, 90° − bevel angle", "60", "°", 1e-9,
			square(func(b joint.Beam) float64 { return b.Angle / degree })},
		{"its index point for the middle of the bevel, one skip", closedForm, "algebra, −(1.5 + 9·tan 30° + 31·tan 60°)", "-60.3897", "mm", 0,
			square(func(b joint.Beam) float64 { return b.Index * 1e3 })},
		{"throat of a fillet with legs of 10 mm", published, "ISO 2553, z = a·√2, from memory", "7.0711", "mm", 0,
			exactly(func() float64 { return joint.Fillet{Leg: 10e-3}.Throat() * 1e3 })},
	}
}
