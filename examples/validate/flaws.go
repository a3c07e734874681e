// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"errors"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/thickness"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/sizing/volume"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/wedge"
)

// crackTips checks sizes from the echoes of tips, and time-of-flight diffraction.
func crackTips() []check {
	const tofd = "ISO 10863, geometry, from memory"
	plate := slit("tips_plate2", "L-L", [4]float64{-2, 6, 8, 18}, 1e-4, 2, 13)
	notch := slit("notch32", "L-L", [4]float64{-9, -3, 7, 16}, 1e-4, -6, 11.5)
	weld := slit("tips_weld2", "TT-TT", [4]float64{14, 24, 4, 16.5}, 1.2e-4, 20, 9)
	length := func(f *tips.Flaw) float64 { return f.Length * 1e3 }
	tilt := func(f *tips.Flaw) float64 { return f.Tilt / degree }
	pitch := tips.Pitch{HalfSpacing: 50e-3, Speed: 5950}
	return []check{
		{"slit of 6 mm in a plate, length", fullWave, "full wave, tips_plate2: slit of 6 mm", "6", "mm", 0.3, ofFlaw(plate, length)},
		{"the same, tilt", fullWave, "full wave, tips_plate2: leans by −35°", "-35", "°", 5, ofFlaw(plate, tilt)},
		{"vertical slit in a plate, length", fullWave, "full wave, notch32: z from 9 to 14 mm", "5", "mm", 0.3, ofFlaw(notch, length)},
		{"slit of 2.5 mm through a wedge, length", fullWave, "full wave, tips_weld2: slit of 2.5 mm", "2.5", "mm", 0.4, ofFlaw(weld, length)},
		{"the same, tilt", fullWave, "full wave, tips_weld2: leans by −20°", "-20", "°", 5, ofFlaw(weld, tilt)},
		{"depth from 17.13956139 µs, S 50 mm, c 5.95", closedForm, tofd + ": √((ct/2)² − S²)", "10", "mm", 1e-5,
			exactly(func() float64 { return pitch.Depth(17.13956139e-6) * 1e3 })},
		{"error of the depth of 5 mm for 10 ns", closedForm, tofd + ": c·δt·√(S² + d²)/2d", "0.29898", "mm", 0,
			exactly(func() float64 { return pitch.DepthError(16.89054726e-6, tips.Errors{Time: 10e-9}) * 1e3 })},
		{"depth of 10 mm read for a tip 10 mm off the middle", closedForm, "algebra, half of the sum of both ways", "10.197726", "mm", 1e-5,
			exactly(func() float64 { return pitch.Depth(pitch.Time(10e-3, 10e-3)) * 1e3 })},
	}
}

// slit returns a function that finds planar flaws of a capture by their tips, and takes the flaw
// nearest to a place. The box and the place are in mm, the step is in m.
func slit(name, view string, box [4]float64, step, x, z float64) func() (*tips.Flaw, error) {
	return once(func() (*tips.Flaw, error) {
		s, err := read(testdata(name))
		if err != nil {
			return nil, err
		}
		image, err := imageOf(s, view, box, step)
		if err != nil {
			return nil, err
		}
		found, err := tips.Find(context.Background(), s.Capture, s.setup, []tips.View{{Name: view, Image: image}}, &tips.Options{Dimension: wedge.Section})
		if err != nil {
			return nil, err
		}
		var best *tips.Flaw
		least := 2.0 // mm
		for i := range found {
			f := &found[i]
			if d := math.Hypot(f.Centre.X*1e3-x, f.Centre.Z*1e3-z); d < least {
				best, least = f, d
			}
		}
		if best == nil {
			return nil, errors.New("no flaw at the place of the slit")
		}
		return best, nil
	})
}

// imageOf returns an image of a view on a box in mm.
func imageOf(s *specimen, view string, box [4]float64, step float64) (*tfm.Image, error) {
	grid, err := tfm.NewSection(box[0]*1e-3, box[1]*1e-3, box[2]*1e-3, box[3]*1e-3, step)
	if err != nil {
		return nil, err
	}
	plan, err := tfm.PlanView(context.Background(), s.Capture, s.setup, view, grid, nil)
	if err != nil {
		return nil, err
	}
	return plan.Image(context.Background(), s.Capture)
}

// ofFlaw returns a result of a flaw.
func ofFlaw[T any](find func() (*T, error), of func(*T) float64) func() (float64, error) {
	return func() (float64, error) {
		f, err := find()
		if err != nil {
			return 0, err
		}
		return of(f), nil
	}
}

// flaws checks the list of flaws of a plate with a hole and a slit.
func flaws() []check {
	list := once(func() (*[]flaw.Flaw, error) {
		s, err := read(testdata("tips_plate2"))
		if err != nil {
			return nil, err
		}
		image, err := imageOf(s, "L-L", [4]float64{-9, 9, 7.5, 25.5}, 1.5e-4)
		if err != nil {
			return nil, err
		}
		found, err := flaw.List(context.Background(), s.Capture, s.setup, []flaw.View{{Name: "L-L", Image: image}},
			&flaw.Options{Dimension: wedge.Section, Floor: -25})
		return &found, err
	})
	of := func(kind flaw.Kind, get func(flaw.Flaw) float64) func() (float64, error) {
		return ofFlaw(list, func(all *[]flaw.Flaw) float64 {
			for _, f := range *all {
				if f.Kind == kind {
					return get(f)
				}
			}
			return math.NaN()
		})
	}
	return []check{
		{"flaws, and no more, besides the back wall", fullWave, "full wave, tips_plate2: a slit and a hole", "2", "", 0, ofFlaw(list, func(all *[]flaw.Flaw) float64 {
			n := 0.0
			for _, f := range *all {
				if f.Kind != flaw.Geometry {
					n++
				}
			}
			return n
		})},
		{"planar flaw, x of its centre", fullWave, "full wave, tips_plate2: slit at x = 2 mm", "2", "mm", 0.3, of(flaw.Planar, func(f flaw.Flaw) float64 { return f.X * 1e3 })},
		{"planar flaw, depth of its centre", fullWave, "full wave, tips_plate2: slit at z = 13 mm", "13", "mm", 0.3, of(flaw.Planar, func(f flaw.Flaw) float64 { return f.Z * 1e3 })},
		{"point flaw, x", fullWave, "full wave, tips_plate2: hole of 1.2 mm", "-7", "mm", 0.3, of(flaw.Point, func(f flaw.Flaw) float64 { return f.X * 1e3 })},
	}
}

// walls checks remaining walls and lengths along a scan.
func walls() []check {
	return []check{
		{"wall from A-scans of a full matrix, median of three beams", fullWave, "full wave, notch32: plate of 25 mm", "25", "mm", 0.1, readWall},
		{"beam along a scan, 2 mm, far away: 6 dB width", closedForm, "algebra, 0.885893·λz/l", "104.890", "mm", 0.25, func() (float64, error) {
			b, err := volume.ElementBeam(2e-3, 5e6, 5920*0.2)
			if err != nil {
				return 0, err
			}
			from, to := b.Point(sizing.SixDB)
			return (from + to) * 1e3, nil
		}},
	}
}

// readWall returns the median thickness in mm that three straight beams in the middle of notch32
// read.
func readWall() (float64, error) {
	s, err := read(testdata("notch32"))
	if err != nil {
		return 0, err
	}
	moving := ascan.Focus{Dynamic: true}
	beams, err := ascan.Linear(ascan.Beam{Mode: material.L, Transmit: moving, Receive: moving}, 32, 12, 4)
	if err != nil {
		return 0, err
	}
	plan, err := ascan.NewPlan(context.Background(), s.Capture, s.setup, beams, nil)
	if err != nil {
		return 0, err
	}
	traces, err := plan.Traces(context.Background(), s.Capture)
	if err != nil {
		return 0, err
	}
	reader := &thickness.Reader{Least: 4e-3, Most: 28e-3, Reference: 1e6, Threshold: -20}
	var read []float64
	for _, t := range traces[1:4] {
		r, err := reader.Read(t)
		if err != nil {
			return 0, err
		}
		read = append(read, r.Thickness*1e3)
	}
	slices.Sort(read)
	return read[1], nil
}
