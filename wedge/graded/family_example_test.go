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
