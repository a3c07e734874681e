// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
	"github.com/isochron-imaging/isochron/wedge"
)

const (
	mm     = 1e-3
	degree = math.Pi / 180
)

// rig is an array on a part. Its values are invented.
type rig struct {
	name    string
	views   []string
	first   float64 // time of the first sample, s
	samples int
	// Flaws are drawn with their centres between x0 and x1, and their ends between top and bottom.
	x0, x1, top, bottom float64 // m
	wall                float64 // thickness, m
	radius              float64 // of a pipe, m; 0 for a plate
	inputs              *uncertainty.Inputs
	build               func(e faults) (*wedge.Setup, fmc.Array, error)
}

// faults are the errors of a set-up: true value minus stated value.
type faults map[uncertainty.Parameter]float64

var (
	steel       = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	polystyrene = material.Isotropic{Density: 1055, Longitudinal: 2340, Transverse: 1150}
	water       = material.Isotropic{Density: 998, Longitudinal: 1480}
)

// rigs are the set-ups of the campaign.
var rigs = []rig{
	{
		name: "block", views: []string{"L-L"}, first: 1e-6, samples: 640,
		x0: -5 * mm, x1: 5 * mm, top: 5 * mm, bottom: 23.5 * mm, wall: 25 * mm, inputs: stated(0, 0),
		build: func(e faults) (*wedge.Setup, fmc.Array, error) {
			setup, err := wedge.NewPlate(nil, e.part(), 25*mm+e.thickness())
			return place(setup, err, 5e6, 0, r3.Vec{X: e[uncertainty.ProbePosition]})
		},
	},
	{
		name: "wedge", views: []string{"T-T", "TT-T"}, first: 16e-6, samples: 880,
		x0: 14 * mm, x1: 20 * mm, top: 3 * mm, bottom: 14.5 * mm, wall: 16 * mm, inputs: stated(10, 0.05*mm),
		build: func(e faults) (*wedge.Setup, fmc.Array, error) {
			const angle, height = 36 * degree, 11.5 * mm
			coupling := polystyrene
			coupling.Longitudinal += e[uncertainty.CouplingSpeed]
			setup, err := wedge.NewPlate(&coupling, e.part(), 16*mm+e.thickness())
			return place(setup, err, 4e6, angle, r3.Vec{
				X: -height*math.Tan(angle) + e[uncertainty.ProbePosition], Z: -height - e[uncertainty.WedgeHeight],
			})
		},
	},
	{
		name: "pipe", views: []string{"L-L"}, first: 13e-6, samples: 600,
		x0: -3 * mm, x1: 3 * mm, top: 3 * mm, bottom: 12.5 * mm, wall: 14 * mm, radius: 57 * mm, inputs: stated(4, 0.05*mm),
		build: func(e faults) (*wedge.Setup, fmc.Array, error) {
			coupling := water
			coupling.Longitudinal += e[uncertainty.CouplingSpeed]
			setup, err := wedge.NewPipe(&coupling, e.part(), 57*mm, 14*mm+e.thickness())
			return place(setup, err, 4e6, 0, r3.Vec{X: e[uncertainty.ProbePosition], Z: -10*mm - e[uncertainty.WedgeHeight]})
		},
	},
}

// stated returns what is known of a set-up. The campaign draws the errors from it, so that the
// stated uncertainties are true ones. The angle and the elements have no errors.
func stated(couplingSpeed, height float64) *uncertainty.Inputs {
	u := map[uncertainty.Parameter]float64{
		uncertainty.CouplingSpeed: couplingSpeed, uncertainty.LongitudinalSpeed: 20, uncertainty.TransverseSpeed: 12,
		uncertainty.Thickness: 0.05 * mm, uncertainty.WedgeAngle: 0, uncertainty.WedgeHeight: height,
		uncertainty.ProbePosition: 0.1 * mm, uncertainty.ElementSpacing: 0, uncertainty.ElementPositions: 0,
		uncertainty.TimeZero: 0,
	}
	in := &uncertainty.Inputs{Parameters: map[uncertainty.Parameter]uncertainty.Quantity{}}
	for p, v := range u {
		in.Parameters[p] = uncertainty.Quantity{Uncertainty: v}
	}
	return in
}

// draw returns errors from the normal distributions that the inputs state.
func (g *rig) draw(r *rand.Rand) faults {
	e := faults{}
	for p := uncertainty.CouplingSpeed; p <= uncertainty.TimeZero; p++ { // a range over the map has no order
		e[p] = g.inputs.Parameters[p].Uncertainty * r.NormFloat64()
	}
	return e
}

// part returns the material of the part with its errors.
func (e faults) part() material.Isotropic {
	m := steel
	m.Longitudinal += e[uncertainty.LongitudinalSpeed]
	m.Transverse += e[uncertainty.TransverseSpeed]
	return m
}

// place adds an array of 24 elements to a set-up.
func place(setup *wedge.Setup, err error, frequency, angle float64, at r3.Vec) (*wedge.Setup, fmc.Array, error) {
	if err != nil {
		return nil, fmc.Array{}, err
	}
	like := fmc.Array{Width: 0.5 * mm, CentreFrequency: frequency, Bandwidth: 0.6}
	array, err := fmc.LinearArray(24, 0.6*mm, like)
	if err == nil {
		array, err = array.Place(r3.NewRotation(angle, r3.Vec{Y: 1}), at)
	}
	return setup, array, err
}

// backAt returns z of the back wall at x, for an error of the thickness.
func (g *rig) backAt(x, thickness float64) float64 {
	if g.radius == 0 {
		return g.wall + thickness
	}
	return g.radius - math.Sqrt(math.Pow(g.radius-g.wall-thickness, 2)-x*x)
}

// rigOf returns the set-up of a flaw of the campaign: by turns.
func rigOf(number int) *rig { return &rigs[number%len(rigs)] }

// thickness returns the error of the thickness in m.
func (e faults) thickness() float64 { return e[uncertainty.Thickness] }
