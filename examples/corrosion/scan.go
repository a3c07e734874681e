// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing/thickness"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/wedge"
)

// The raster: in each pass the array moves along s. Between passes it moves along x by the width of
// its beams, so that all columns are one pitch apart.
const (
	elements = 16
	aperture = 8 // elements of a beam
	beams    = elements - aperture + 1
	pitch    = 0.6e-3 // m
	passes   = 2
	frames   = 27
	step     = 1.5e-3 // m along s
)

// fullScale is the amplitude of a sample at which the digitiser clips, in the unit of package synth.
const fullScale = 100

var steel = material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}

// newPlate returns the plate, seen by the array of the first pass.
func newPlate() (*synth.Part, error) {
	setup, err := wedge.NewPlate(nil, steel, 12e-3)
	if err != nil {
		return nil, err
	}
	direct, err := wedge.ParseView("L-L")
	if err != nil {
		return nil, err
	}
	array, err := fmc.LinearArray(elements, pitch, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		return nil, err
	}
	return &synth.Part{
		Scene: synth.Scene{
			Setup: *setup, Array: array, Dimension: wedge.Space, Length: 3e-3,
			Views: []wedge.View{direct}, Walls: [][]material.Mode{{material.L, material.L}},
		},
		Back: func(s float64) (wedge.Surface, error) { return wedge.HorizontalPlane(12e-3 - 0.01*s) },
		Flaws: []synth.Flaw{
			synth.Pit{X: 1e-3, S: 8e-3, Diameter: 8e-3, Depth: 2e-3},
			synth.Pit{X: 5e-3, S: 19e-3, Diameter: 5e-3, Depth: 5e-3},
			synth.Pit{X: 0, S: 29e-3, Diameter: 3e-3, Depth: 3e-3},
		},
	}, nil
}

// scan scans the plate pass by pass, and keeps one frame in memory.
func scan(ctx context.Context, plate *synth.Part) (*thickness.Map, error) {
	var x []float64
	for i := range passes * beams {
		x = append(x, (float64(i)-(beams-1)/2.)*pitch)
	}
	m, err := thickness.NewMap(synth.Steps(0, step, frames), x)
	if err != nil {
		return nil, err
	}
	for pass := range passes {
		moved := *plate
		moved.Scene.Array, err = plate.Scene.Array.Place(r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{X: float64(pass*beams) * pitch})
		if err != nil {
			return nil, err
		}
		if err := follow(ctx, &moved, m, pass); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// follow reads the frames of one pass into the map.
func follow(ctx context.Context, plate *synth.Part, m *thickness.Map, pass int) error {
	way := synth.Pass{Positions: m.S, FullScale: fullScale, Noise: 0.002, Bits: 14, Seed: uint64(pass)}
	if pass == 1 {
		way.Patches = []synth.Patch{{From: 32e-3, To: 39e-3, Loss: 60}}
	}
	recording := synth.Recording{Pairs: pairs(), Samples: 300, SampleRate: 50e6}
	source, err := synth.NewScan(ctx, plate, way, recording)
	if err != nil {
		return err
	}
	told := steel
	told.Longitudinal += 10
	setup, err := wedge.NewPlate(nil, told, 12e-3)
	if err != nil {
		return err
	}
	like := ascan.Beam{Mode: material.L, Transmit: ascan.Focus{Dynamic: true}, Receive: ascan.Focus{Dynamic: true}}
	list, err := ascan.Linear(like, elements, aperture, 1)
	if err != nil {
		return err
	}
	capture := source.Capture()
	plan, err := ascan.NewPlan(ctx, capture, setup, list, nil)
	if err != nil {
		return err
	}
	reader := &thickness.Reader{
		Least: 3e-3, Most: 14e-3, Threshold: -18,
		Errors: thickness.Errors{Speed: 15, Delay: 3e-9, Method: 0.005e-3},
	}
	scratch := plan.NewScratch()
	for i := range m.S {
		if pass == 0 && (i == 1 || i == 2) {
			continue // frames that are missing
		}
		if _, err := source.Frame(ctx, i, capture); err != nil {
			return err
		}
		traces, err := scratch.Traces(ctx, capture.Data)
		if err != nil {
			return err
		}
		if i == 0 { // the wall is sound there
			reader.Reference = slices.Max(traces[beams/2].Envelope(nil))
		}
		if err := m.Read(reader, i, pass*beams, traces); err != nil {
			return err
		}
	}
	return nil
}

// pairs returns the pairs of elements that beams need: less than an aperture apart.
func pairs() []fmc.Pair {
	var list []fmc.Pair
	for _, p := range fmc.HalfPairs(elements) {
		if max(p.Tx, p.Rx)-min(p.Tx, p.Rx) < aperture {
			list = append(list, p)
		}
	}
	return list
}

// trueAt returns the true thickness in m at a cell of the map.
func trueAt(plate *synth.Part, m *thickness.Map, cell int) float64 {
	left, err := plate.Remaining(m.X[cell%len(m.X)], m.S[cell/len(m.X)])
	if err != nil {
		return math.NaN()
	}
	return left
}
