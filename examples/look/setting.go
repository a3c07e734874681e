// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/wedge"
)

// setting is the part of a set-up that the page may change, in SI units. Speeds and the thickness
// are of the part. Height is the height of the middle of the array above z = 0, Angle the angle
// between the normal of the array and the vertical.
type setting struct {
	Longitudinal, Transverse, Coupling, Angle, Height, Thickness float64
}

// control is one value of a setting with its range, in SI units.
type control struct {
	Key   string  `json:"key"` // in requests
	Label string  `json:"label"`
	Unit  string  `json:"unit"`  // of the page
	Scale float64 `json:"scale"` // from SI to this unit
	Value float64 `json:"value"` // as recorded
	Min   float64 `json:"min"`
	Max   float64 `json:"max"`
	Step  float64 `json:"step"`

	of func(*setting) *float64
}

// recorded returns the setting of a record.
func recorded(r *npy.Record) setting {
	s := setting{Longitudinal: r.Part.Longitudinal, Transverse: r.Part.Transverse, Thickness: r.Thickness}
	if r.Coupling != nil {
		s.Coupling = r.Coupling.Longitudinal
		s.Angle, s.Height = r.Incidence(), -middle(r).Z
	}
	return s
}

// middle returns the mean place of the elements.
func middle(r *npy.Record) (sum r3.Vec) {
	elements := r.Capture.Array.Elements
	for _, e := range elements {
		sum = r3.Add(sum, e)
	}
	return r3.Scale(1/float64(len(elements)), sum)
}

// controls returns what the page may change in the set-up of a record.
func controls(r *npy.Record) []control {
	const degree = math.Pi / 180
	now := recorded(r)
	list := []control{{
		Key: "longitudinal", Label: "longitudinal speed in " + r.Part.Name, Unit: "m/s", Scale: 1, Step: 1,
		of: func(s *setting) *float64 { return &s.Longitudinal },
	}}
	if now.Transverse > 0 {
		list = append(list, control{
			Key: "transverse", Label: "transverse speed in " + r.Part.Name, Unit: "m/s", Scale: 1, Step: 1,
			of: func(s *setting) *float64 { return &s.Transverse },
		})
	}
	for i := range list {
		// With 15 % each the speeds of steel and aluminium stay possible: T < L·√3/2.
		list[i].Min, list[i].Max = -0.15**list[i].of(&now), 0.15**list[i].of(&now)
	}
	if r.Coupling != nil {
		over, angle := "the wedge", "angle of the wedge"
		if r.Coupling.Transverse == 0 {
			over, angle = r.Coupling.Name, "tilt of the array"
		}
		up := min(2e-3, 0.5*clearance(r))
		list = append(list, control{
			Key: "coupling", Label: "speed in " + over, Unit: "m/s", Scale: 1, Step: 1,
			Min: -0.15 * now.Coupling, Max: 0.15 * now.Coupling,
			of: func(s *setting) *float64 { return &s.Coupling },
		}, control{
			Key: "angle", Label: angle, Unit: "°", Scale: 1 / degree, Step: 0.05 * degree,
			Min: -5 * degree, Max: 5 * degree,
			of: func(s *setting) *float64 { return &s.Angle },
		}, control{
			Key: "height", Label: "height of the array's middle", Unit: "mm", Scale: 1e3, Step: 1e-5,
			Min: -up, Max: up,
			of: func(s *setting) *float64 { return &s.Height },
		})
	}
	list = append(list, control{
		Key: "thickness", Label: "thickness of the part", Unit: "mm", Scale: 1e3, Step: 1e-5,
		Min: -0.1 * now.Thickness, Max: 0.1 * now.Thickness,
		of: func(s *setting) *float64 { return &s.Thickness },
	})
	for i := range list {
		c := &list[i]
		c.Value = *c.of(&now)
		c.Min, c.Max = c.Value+c.Min, c.Value+c.Max
	}
	return list
}

// clearance returns the smallest height of an element above z = 0.
func clearance(r *npy.Record) float64 {
	least := math.Inf(1)
	for _, e := range r.Capture.Array.Elements {
		least = min(least, -e.Z)
	}
	return least
}

// apply returns a copy of a record with another setting, and its geometry. The samples are shared.
func (s setting) apply(r *npy.Record) (*npy.Record, *wedge.Setup, error) {
	changed, capture := *r, *r.Capture
	changed.Capture = &capture
	changed.Part.Longitudinal, changed.Part.Transverse = s.Longitudinal, s.Transverse
	changed.Thickness = s.Thickness
	if r.Coupling != nil {
		coupling := *r.Coupling
		coupling.Longitudinal = s.Coupling
		changed.Coupling = &coupling
		// The array turns about its middle.
		centre := middle(r)
		turn := r3.NewRotation(s.Angle-r.Incidence(), r3.Vec{Y: 1})
		shift := r3.Sub(r3.Vec{X: centre.X, Y: centre.Y, Z: -s.Height}, turn.Rotate(centre))
		array, err := capture.Array.Place(turn, shift)
		if err != nil {
			return nil, nil, err
		}
		capture.Array = array
	}
	setup, err := changed.Geometry()
	if err != nil {
		return nil, nil, fmt.Errorf("this set-up is not possible: %w", err)
	}
	return &changed, setup, nil
}
