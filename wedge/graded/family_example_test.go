// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded_test

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge/graded"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// lawFamily returns an invented V weld whose grain law is not exactly known.
func lawFamily(t, eta float64) (*graded.Family, error) {
	edge := joint.Edge{Upper: joint.Bevel{Angle: math.Atan(17. / 30)}}
	vee, err := joint.Butt{Thickness: 30e-3, Gap: 6e-3, Left: edge, Right: edge}.Joint()
	if err != nil {
		return nil, err
	}
	metal, err := material.FindCrystal("weld metal X6CrNi18-11")
	if err != nil {
		return nil, err
	}
	curves, err := graded.NewSlownessCurves(metal.Medium)
	if err != nil {
		return nil, err
	}
	return graded.NewFamily([]graded.Parameter{
		{Name: "T", Value: t, Low: 0.4, High: 2.5},
		{Name: "eta", Value: eta, Low: 0.6, High: 1.4},
	}, func(v []float64) (*graded.Part, error) {
		law, err := graded.NewGrainLaw(vee, v[0], v[1])
		if err != nil {
			return nil, err
		}
		return graded.NewWeld(nil, parent, curves, law, vee)
	})
}

// How much does an error of 10 % of T change the times of longitudinal waves from three elements to
// a point in the weld?
func ExampleFamily_Derivatives() {
	family, err := lawFamily(1, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	elements := []r3.Vec{{X: -40e-3}, {X: -25e-3}, {X: -10e-3}}
	points := []r3.Vec{{X: 5e-3, Z: 24e-3}}
	derivatives, err := family.Derivatives(context.Background(), graded.QuasiLongitudinal, elements, points, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for e, d := range derivatives {
		fmt.Printf("element at %.0f mm: %.3f µs, %+.1f ns\n", elements[e].X*1e3, d.Time*1e6, d.By[0]*0.1*1e9)
	}
	// Output:
	// element at -40 mm: 8.788 µs, +3.3 ns
	// element at -25 mm: 6.632 µs, -8.5 ns
	// element at -10 mm: 4.673 µs, -11.6 ns
}

// Times through a specimen tell the grain law. The times are invented: they are times through a weld
// with T = 1.2 and η = 0.9, rounded to a nanosecond. Times beside the weld tell nothing.
func ExampleFamily_Fit() {
	family, err := lawFamily(1, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	specimen, err := lawFamily(1.2, 0.9)
	if err != nil {
		fmt.Println(err)
		return
	}
	elements := []r3.Vec{{X: -34e-3}, {X: -30e-3}, {X: -26e-3}, {X: -22e-3}}
	for _, points := range [][]r3.Vec{
		{{X: 2e-3, Z: 12e-3}, {X: 6e-3, Z: 20e-3}, {X: 2e-3, Z: 28e-3}, {X: -2e-3, Z: 24e-3}, {X: 12e-3, Z: 28e-3}}, // in the weld and behind it
		{{X: -40e-3, Z: 12e-3}, {X: -40e-3, Z: 20e-3}, {X: -40e-3, Z: 28e-3}},                                       // before it
	} {
		times, err := specimen.Derivatives(context.Background(), graded.QuasiLongitudinal, elements, points, nil)
		if err != nil {
			fmt.Println(err)
			return
		}
		var readings []graded.TimeReading
		for i, d := range times {
			readings = append(readings, graded.TimeReading{
				Element: elements[i/len(points)], Point: points[i%len(points)], Time: math.Round(d.Time*1e9) * 1e-9,
			})
		}
		fit, err := family.Fit(context.Background(), graded.QuasiLongitudinal, readings, &graded.FitOptions{Uncertainty: 1e-9})
		if err != nil {
			fmt.Println(err)
			return
		}
		for _, e := range fit.Estimates {
			if e.Determined {
				fmt.Printf("%s = %.2f ± %.2f\n", e.Name, e.Value, 2*e.Uncertainty)
			} else {
				fmt.Printf("%s: the times do not tell\n", e.Name)
			}
		}
	}
	// Output:
	// T = 1.20 ± 0.02
	// eta = 0.90 ± 0.01
	// T: the times do not tell
	// eta: the times do not tell
}
