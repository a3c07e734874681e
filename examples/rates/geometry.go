// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// geometries are the set-ups of case A whose tables are measured. They are invented.
var geometries = []struct {
	name        string
	setup       func() (*wedge.Setup, error)
	mode        material.Mode
	angle, gap  float64 // rad and m: how the array stands above the part
	interpolate bool
}{
	{"in contact", inContact, material.L, 0, 0, false},
	{"plane wedge", onWedge, material.T, 0.6, 18e-3, false},
	{"water over a cylinder, interpolated", overCylinder, material.L, 0, 10e-3, true},
	{"water over a measured surface, interpolated", overProfile, material.L, 0, 10e-3, true},
}

var (
	steel   = material.Isotropic{Density: 7850, Longitudinal: speed, Transverse: 3240}
	plastic = material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}
	water   = material.Isotropic{Density: 1000, Longitudinal: 1480}
)

func inContact() (*wedge.Setup, error) { return wedge.NewPlate(nil, steel, 1) }

func onWedge() (*wedge.Setup, error) { return wedge.NewPlate(&plastic, steel, 1) }

func overCylinder() (*wedge.Setup, error) {
	const radius = 57.15e-3
	entry, err := wedge.NewCylinder(r3.Vec{Z: radius}, r3.Vec{Y: 1}, radius, wedge.Convex)
	return &wedge.Setup{Coupling: &water, Part: steel, Entry: entry}, err
}

// overProfile has waves of 0.3 mm that are 75 mm long.
func overProfile() (*wedge.Setup, error) {
	var measured []r3.Vec
	for x := -70e-3; x <= 70e-3; x += 1e-3 {
		measured = append(measured, r3.Vec{X: x, Z: 0.3e-3 * math.Sin(x/12e-3)})
	}
	entry, err := wedge.NewProfile(measured)
	return &wedge.Setup{Coupling: &water, Part: steel, Entry: entry}, err
}

// The ways of a geometry.
const (
	toTable = "tables"
	toPlan  = "plan"
)

// geometryTasks returns the tasks of a new geometry of case A: its tables, and its plan in single
// precision.
func geometryTasks(ctx context.Context, cores int) (tasks []task, err error) {
	for _, geometry := range geometries {
		j := jobs[0]
		j.samples *= 2 // the way through the coupling
		c, err := j.capture()
		if err != nil {
			return nil, err
		}
		grid, err := j.grid()
		if err != nil {
			return nil, err
		}
		elements := c.Array.Elements
		for i, at := range elements {
			elements[i] = r3.Vec{X: at.X * math.Cos(geometry.angle), Z: -geometry.gap - at.X*math.Sin(geometry.angle)}
			if geometry.angle != 0 {
				elements[i].X -= 12e-3
			}
		}
		if geometry.angle != 0 {
			grid.Origin.X = 0
		}
		setup, err := geometry.setup()
		if err != nil {
			return nil, err
		}
		path, err := setup.Path([]material.Mode{geometry.mode})
		if err != nil {
			return nil, err
		}
		for _, n := range counts(cores) {
			var times *wedge.Times
			table := func() (err error) {
				if geometry.interpolate {
					times, err = path.Interpolate(ctx, elements, grid, &wedge.InterpolateOptions{Workers: n})
				} else {
					times, err = path.Times(ctx, elements, grid.Points(), &wedge.TimesOptions{Workers: n})
				}
				return err
			}
			plan := func() error {
				_, err := tfm.NewPlan(c, grid, times, times, &tfm.Options{Workers: n})
				return err
			}
			tasks = append(tasks,
				task{subject: subject{Key: key{Job: geometry.name, Way: toTable, All: n > 1}}, do: table},
				task{subject: subject{Key: key{Job: geometry.name, Way: toPlan, All: n > 1}}, do: plan})
		}
	}
	return tasks, nil
}
