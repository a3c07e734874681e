// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// calibrations checks what echoes tell of the array over a face.
func calibrations() []check {
	exact := once(func() (*calibrate.Placement, error) { return calibrate.Face(wedgeEchoes()) })
	found := func(of func(*calibrate.Placement) float64) func() (float64, error) {
		return func() (float64, error) {
			p, err := exact()
			if err != nil {
				return 0, err
			}
			return of(p), nil
		}
	}
	return []check{
		{"wedge angle from times of the mirror image", closedForm, "algebra, t = √(s² + 4h₁h₂)/c", "36", "°", 1e-6,
			found(func(p *calibrate.Placement) float64 { return p.Angle.Value / degree })},
		{"height from times of the mirror image", closedForm, "algebra, t = √(s² + 4h₁h₂)/c", "15", "mm", 1e-6,
			found(func(p *calibrate.Placement) float64 { return p.Distance.Value * 1e3 })},
		{"delay from element to element in pulse-echo, 36°", closedForm, "algebra, 2·p·sin α/c", "302.722018", "ns", 1e-4,
			found(func(p *calibrate.Placement) float64 {
				return 2 * (p.Heights[9].Value - p.Heights[8].Value) / 2330 * 1e9
			})},
		{"wedge angle from the echo of the wedge floor", fullWave, "full wave, weld32: elements of the set-up", "36", "°", 0.1, floorAngle},
		{"thickness of aluminium from the back-wall echo", fullWave, "full wave, block16: plate of 40 mm", "40", "mm", 0.1, wallThickness("block16")},
		{"thickness of steel from the back-wall echo", fullWave, "full wave, notch32: plate of 25 mm", "25", "mm", 0.1, wallThickness("notch32")},
	}
}

// wedgeEchoes returns an array of 16 elements, 0.6 mm apart, and the times at which the floor of a
// wedge of 36° echoes, with the middle of the array 15 mm above the floor.
func wedgeEchoes() ([]r3.Vec, []calibrate.Arrival, *calibrate.Options) {
	const n, pitch, speed = 16, 0.6e-3, 2330.0
	var elements []r3.Vec
	height := func(i int) float64 { return 15e-3 + (float64(i)-(n-1)/2.0)*pitch*math.Sin(36*degree) }
	for i := range n {
		elements = append(elements, r3.Vec{X: (float64(i) - (n-1)/2.0) * pitch})
	}
	var arrivals []calibrate.Arrival
	for i := range n {
		for k := i; k < n; k++ {
			s := float64(k-i) * pitch
			t := math.Sqrt(s*s+4*height(i)*height(k)) / speed
			arrivals = append(arrivals, calibrate.Arrival{Transmit: i, Receive: k, Time: t, Amplitude: 1})
		}
	}
	return elements, arrivals, &calibrate.Options{Speed: calibrate.Estimate{Value: speed}}
}

// floorAngle returns the angle in degrees of the wedge of weld32, from the echoes of its floor.
func floorAngle() (float64, error) {
	s, err := read(testdata("weld32"))
	if err != nil {
		return 0, err
	}
	arrivals, err := calibrate.Pick(s.Capture, nil)
	if err != nil {
		return 0, err
	}
	elements := make([]r3.Vec, 32)
	for i := range elements {
		elements[i].X = (float64(i) - 15.5) * 0.6e-3
	}
	p, err := calibrate.Face(elements, arrivals, &calibrate.Options{Speed: calibrate.Estimate{Value: 2340}})
	if err != nil {
		return 0, err
	}
	return p.Angle.Value / degree, nil
}

// wallThickness returns the thickness in mm of a plate in contact, from the echoes of its back
// wall.
func wallThickness(name string) func() (float64, error) {
	return func() (float64, error) {
		s, err := read(testdata(name))
		if err != nil {
			return 0, err
		}
		arrivals, err := calibrate.Pick(s.Capture, nil)
		if err != nil {
			return 0, err
		}
		p, err := calibrate.Face(s.Capture.Array.Elements, arrivals, &calibrate.Options{
			Facing: calibrate.Parallel, Speed: calibrate.Estimate{Value: s.Part.Longitudinal},
		})
		if err != nil {
			return 0, err
		}
		return p.Distance.Value * 1e3, nil
	}
}
