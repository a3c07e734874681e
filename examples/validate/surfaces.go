// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/adapt"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// surfaces checks surfaces, walls and speeds that are found in full-wave captures.
func surfaces() []check {
	pipe := once(func() (*adapt.Surface, error) { return findSurface("pipe32") })
	wavy := once(func() (*adapt.Surface, error) { return findSurface("wavy32") })
	return []check{
		{"pipe in water, radius of its surface", fullWave, "full wave, pipe32: 114.3 mm outer diameter", "57.15", "mm", 0.5, ofSurface(pipe, func(s *adapt.Surface) float64 { return s.Radius.Value })},
		{"pipe in water, stand-off", fullWave, "full wave, pipe32: 10 mm of water", "10", "mm", 0.03, ofSurface(pipe, func(s *adapt.Surface) float64 { return s.StandOff.Value })},
		{"wavy surface in water, depth at x = -2.5 mm", fullWave, "full wave, wavy32: points of the profile", "0.0873", "mm", 0.03, ofSurface(wavy, func(s *adapt.Surface) float64 { return s.Depth(-2.5e-3).Value })},
		{"wavy surface in water, depth at x = 4 mm", fullWave, "full wave, wavy32: points of the profile", "-0.4106", "mm", 0.03, ofSurface(wavy, func(s *adapt.Surface) float64 { return s.Depth(4e-3).Value })},
		{"wall of the pipe from its two echoes", fullWave, "full wave, pipe32: wall of 14 mm", "14", "mm", 0.1, pipeWall},
		{"speed of aluminium at which two holes are sharpest", fullWave, "full wave, block16: 6320 m/s", "6320", "m/s", 60, sharpestSpeed},
	}
}

func findSurface(name string) (*adapt.Surface, error) {
	s, err := read(testdata(name))
	if err != nil {
		return nil, err
	}
	return adapt.FindSurface(s.Capture, calibrate.Estimate{Value: 1482, Uncertainty: 1}, nil)
}

// ofSurface returns a length of a surface in mm.
func ofSurface(find func() (*adapt.Surface, error), of func(*adapt.Surface) float64) func() (float64, error) {
	return func() (float64, error) {
		s, err := find()
		if err != nil {
			return 0, err
		}
		return of(s) * 1e3, nil
	}
}

// pipeWall returns the thickness of the wall of pipe32 in mm.
func pipeWall() (float64, error) {
	s, err := read(testdata("pipe32"))
	if err != nil {
		return 0, err
	}
	w, err := adapt.FindWall(s.Capture, 4e-6, 5.5e-6, nil)
	if err != nil {
		return 0, err
	}
	return w.Thickness(calibrate.Estimate{Value: 5920}).Value * 1e3, nil
}

// sharpestSpeed returns the speed in m/s at which two holes of block16 are sharpest.
func sharpestSpeed() (float64, error) {
	s, err := read(testdata("block16"))
	if err != nil {
		return 0, err
	}
	var regions []tfm.Grid
	for _, h := range s.Truth.Holes[:2] {
		g, err := tfm.NewSection(h.X-2e-3, h.X+2e-3, 0.8*h.Z, 1.2*h.Z, 0.2e-3)
		if err != nil {
			return 0, err
		}
		regions = append(regions, g)
	}
	trial := adapt.PartSpeed(s.setup, s.Capture.Array.Elements, material.L)
	found, err := adapt.Focus(context.Background(), s.Capture, "L-L", regions, trial,
		wedge.Interval{Min: 5500, Max: 7200}, &adapt.FocusOptions{Radius: 0.75e-3})
	if err != nil {
		return 0, err
	}
	return found.Value.Value, nil
}

// beamsOfMatrix checks A-scans that are formed from a matrix.
func beamsOfMatrix() []check {
	return []check{
		{"focused A-scan less pixel of the image, over the peak", identity, "algebra, the same sum", "0", "", 2e-5, focusIsPixel},
		{"sound path to the near face of hole 2, straight aim", fullWave, "full wave, block16: hole of 1.5 mm at (-3, 17)", "0", "mm", 0.07, nearFace},
	}
}

// trace returns the A-scan of a beam of block16.
func trace(s *specimen, beam ascan.Beam) (*ascan.Trace, error) {
	plan, err := ascan.NewPlan(context.Background(), s.Capture, s.setup, []ascan.Beam{beam}, nil)
	if err != nil {
		return nil, err
	}
	traces, err := plan.Traces(context.Background(), s.Capture)
	if err != nil {
		return nil, err
	}
	return traces[0], nil
}

// focusIsPixel returns the modulus of the difference between an A-scan of block16 with dynamic
// focus at a sample, and the pixel of the image at its place, relative to the peak of the A-scan.
func focusIsPixel() (float64, error) {
	s, err := read(testdata("block16"))
	if err != nil {
		return 0, err
	}
	moving := ascan.Focus{Dynamic: true}
	a, err := trace(s, ascan.Beam{Mode: material.L, Angle: 12 * degree, Transmit: moving, Receive: moving})
	if err != nil {
		return 0, err
	}
	peak := 0.0
	for _, v := range a.Envelope(nil) {
		peak = max(peak, v)
	}
	k := int((a.Line.Time(24e-3) - a.FirstSample) * a.SampleRate)
	at, _ := a.Line.At(a.SoundPath(a.Time(float64(k))))
	grid := tfm.Grid{Origin: at, Step: r3.Vec{X: 1e-3, Y: 1e-3, Z: 1e-3}, Cols: 1, Rows: 1, Slices: 1}
	plan, err := tfm.PlanView(context.Background(), s.Capture, s.setup, "L-L", grid, nil)
	if err != nil {
		return 0, err
	}
	image, err := plan.Image(context.Background(), s.Capture)
	if err != nil {
		return 0, err
	}
	return cmplx.Abs(complex128(a.Analytic[k])-complex128(image.Data[0])) / peak, nil
}

// nearFace returns the distance in mm of the echo of the second hole of block16 behind the near
// face of the hole, in an A-scan of six elements that are aimed at the hole.
func nearFace() (float64, error) {
	s, err := read(testdata("block16"))
	if err != nil {
		return 0, err
	}
	h := s.Truth.Holes[1]
	beam, err := ascan.Aim(s.setup, s.Capture.Array, ascan.Beam{Mode: material.L, Elements: []int{2, 3, 4, 5, 6, 7}}, r3.Vec{X: h.X, Z: h.Z}, 1)
	if err != nil {
		return 0, err
	}
	face := beam.Transmit.SoundPath - h.Diameter/2
	beam.Transmit.SoundPath, beam.Receive.SoundPath = face, face
	a, err := trace(s, beam)
	if err != nil {
		return 0, err
	}
	best, at := 0.0, math.NaN()
	for k, v := range a.Envelope(nil) {
		if path := a.SoundPath(a.Time(float64(k))); math.Abs(path-face) < 1.5e-3 && v > best {
			best, at = v, path
		}
	}
	return (at - face) * 1e3, nil
}
