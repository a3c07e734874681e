// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/tfm/sensitivity"
	"github.com/isochron-imaging/isochron/wedge"
)

// ghosts checks where an echo of a wall shows in a view in which it does not belong: below two
// elements side by side, on a plate of 20 mm in contact or 20 mm of water above a thick plate.
func ghosts() []check {
	water := &material.Isotropic{Density: 1000, Longitudinal: 1480}
	return []check{
		{"back wall, L down and T up, in view L-L", closedForm, "algebra, d·(1 + cL/cT)/2", "28.187404", "mm", 5e-3, ghostAt(nil, "L-T echo of the back wall", "L-L")},
		{"back wall, T down and up, in view L-L", closedForm, "algebra, d·cL/cT", "36.374808", "mm", 5e-3, ghostAt(nil, "T-T echo of the back wall", "L-L")},
		{"back wall, L down and up, in view T-T", closedForm, "algebra, d·cT/cL", "10.996622", "mm", 5e-3, ghostAt(nil, "L-L echo of the back wall", "T-T")},
		{"back wall, L down and T up, in view T-T", closedForm, "algebra, d·(1 + cT/cL)/2", "15.498311", "mm", 5e-3, ghostAt(nil, "L-T echo of the back wall", "T-T")},
		{"second echo of the surface, in view L-L", closedForm, "algebra, h·cL/cw", "80", "mm", 5e-3, ghostAt(water, "second echo of the entry surface", "L-L")},
		{"second echo of the surface, in view T-T", closedForm, "algebra, h·cT/cw", "43.986486", "mm", 5e-3, ghostAt(water, "second echo of the entry surface", "T-T")},
	}
}

// ghostAt returns the depth in mm at which an echo shows in a view.
func ghostAt(coupling *material.Isotropic, echo, view string) func() (float64, error) {
	return func() (float64, error) {
		thickness, height := 20e-3, 0.0
		if coupling != nil {
			thickness, height = 100e-3, 20e-3
		}
		setup, err := wedge.NewPlate(coupling, blockSteel, thickness)
		if err != nil {
			return 0, err
		}
		array := fmc.Array{Width: 0.1e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
		for _, x := range []float64{-0.05e-3, 0.05e-3} {
			array.Elements = append(array.Elements, r3.Vec{X: x, Z: -height})
		}
		ctx := context.Background()
		echoes, err := ghost.New(ctx, setup, array, nil)
		if err != nil {
			return 0, err
		}
		grid, err := tfm.NewSection(0, 0, 8e-3, 90e-3, 0.1e-3)
		if err != nil {
			return 0, err
		}
		v, err := wedge.ParseView(view)
		if err != nil {
			return 0, err
		}
		found, err := echoes.Predict(ctx, v, grid, &ghost.PredictOptions{Names: []string{echo}})
		if err == nil && len(found) != 1 {
			err = fmt.Errorf("%d ghosts, want 1", len(found))
		}
		if err != nil {
			return 0, err
		}
		return found[0].At.Z * 1e3, nil
	}
}

// sensitivities checks the level of a point over depth and place: 64 elements of 0.5 mm, 0.6 mm
// apart, at 5 MHz on steel, relative to the point (0, 30) mm.
func sensitivities() []check {
	const formula = "NumPy, (Σ D/√r)² with the line force of Miller 1954"
	level := func(x, z float64) func() (float64, error) {
		return difference(pointLevel(x, z), pointLevel(0, 30))
	}
	return []check{
		{"point at (0, 5) mm", calculated, formula, "0.9552", "dB", 1e-3, level(0, 5)},
		{"point at (0, 20) mm", calculated, formula, "1.6174", "dB", 1e-3, level(0, 20)},
		{"point at (0, 100) mm", calculated, formula, "-8.5289", "dB", 1e-3, level(0, 100)},
		{"point at (20, 30) mm", calculated, formula, "-4.1347", "dB", 1e-3, level(20, 30)},
		{"point at (30, 30) mm", calculated, formula, "-8.5626", "dB", 1e-3, level(30, 30)},
		{"hole at 50 mm, in space less in a section", closedForm, "algebra, 1/√(2z)", "10", "dB", 0.1, difference(holeLevel(50, wedge.Space), holeLevel(50, wedge.Section))},
		{"hole in space, 200 less 100 mm", closedForm, "Krautkrämer 1990, distance laws, from memory", "-9.0309", "dB", 0.1, difference(holeLevel(200, wedge.Space), holeLevel(100, wedge.Space))},
		{"hole 1 less hole 4 of block16, in the corrected image", fullWave, "full wave, block16: equal holes", "0", "dB", 1, equalHoles},
	}
}

// pointLevel returns the level of a point in the view L-L in dB.
func pointLevel(x, z float64) func() (float64, error) {
	return levelAt(64, mm(x, z), sensitivity.Point{}, wedge.Section)
}

// holeLevel returns the level of a hole of 1 mm below two elements in the view L-L in dB.
func holeLevel(z float64, dimension wedge.Dimension) func() (float64, error) {
	return levelAt(2, mm(0, z), sensitivity.Hole{Diameter: 1e-3}, dimension)
}

// levelAt returns the level of a reflector below an array in the view L-L in dB, at nearly one
// frequency.
func levelAt(n int, at r3.Vec, of sensitivity.Reflector, dimension wedge.Dimension) func() (float64, error) {
	return func() (float64, error) {
		c, setup, err := contact(n, 1e-3, 5920)
		if err != nil {
			return 0, err
		}
		c.Data, c.Samples = make([]float32, 100*len(c.Pairs)), 100
		grid := tfm.Grid{Origin: at, Step: r3.Vec{X: 1e-4, Y: 1e-4, Z: 1e-4}, Cols: 1, Rows: 1, Slices: 1}
		m, err := sensitivity.New(context.Background(), c, setup, "L-L", grid, of, &sensitivity.Options{Dimension: dimension})
		if err != nil {
			return 0, err
		}
		return 20 * math.Log10(float64(m.Data[0])), nil
	}
}

// equalHoles returns the level of the first hole of block16 relative to the last, in dB, after the
// image was corrected by the sensitivity for such holes.
func equalHoles() (float64, error) {
	s, err := read(testdata("block16"))
	if err != nil {
		return 0, err
	}
	level := func(hole int) (float64, error) {
		h := s.Truth.Holes[hole]
		grid, err := tfm.NewSection(h.X-1.2e-3, h.X+1.2e-3, h.Z-1.8e-3, h.Z+0.6e-3, 1e-4)
		if err != nil {
			return 0, err
		}
		m, err := sensitivity.New(context.Background(), s.Capture, s.setup, "L-L", grid,
			sensitivity.Hole{Diameter: h.Diameter}, &sensitivity.Options{Dimension: wedge.Section})
		if err != nil {
			return 0, err
		}
		gain, err := m.Gain(1, 200)
		if err != nil {
			return 0, err
		}
		plan, err := tfm.PlanView(context.Background(), s.Capture, s.setup, "L-L", grid, nil)
		if err != nil {
			return 0, err
		}
		image, err := plan.Image(context.Background(), s.Capture)
		if err != nil {
			return 0, err
		}
		if err := gain.Correct(image); err != nil {
			return 0, err
		}
		peak, _ := image.Envelope(nil).Peak()
		return 20 * math.Log10(float64(peak)), nil
	}
	return difference(func() (float64, error) { return level(0) }, func() (float64, error) { return level(3) })()
}
