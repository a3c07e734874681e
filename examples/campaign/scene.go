// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// scene is a part with one flaw and the errors of its set-up.
type scene struct {
	*rig
	target
	errors    faults
	reflector synth.Reflector
	seed      uint64 // of the noise
}

// newScene draws flaw number i. It depends on the seed and on i alone.
func newScene(seed uint64, i int) *scene {
	r := rand.New(rand.NewPCG(seed, uint64(i)))
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	s := &scene{rig: rigOf(i), seed: r.Uint64()}
	s.errors = s.draw(r)
	centre := r3.Vec{X: between(s.x0, s.x1), Z: between(s.top, s.bottom)}
	switch draw := r.IntN(10); {
	case draw < 6: // cracks
		length, width := between(1*mm, 8*mm), 0.05*mm*float64(r.IntN(3))
		tilt := between(-90, 90) * degree
		s.kind = "crack"
		if draw >= 4 {
			s.kind, tilt = "root", tilt/3
		}
		up := r3.Vec{X: length * math.Sin(tilt), Z: -length * math.Cos(tilt)}
		if s.kind == "root" {
			s.to = r3.Vec{X: centre.X, Z: s.backAt(centre.X, s.errors.thickness())}
		} else {
			half := -up.Z / 2
			centre.Z = between(s.top+half, s.bottom-half)
			s.to = r3.Sub(centre, r3.Scale(0.5, up))
		}
		s.from = r3.Add(s.to, up)
		s.reflector = synth.Crack{From: s.from, To: s.to, Rooted: s.kind == "root", Width: width}
	case draw < 8:
		s.target = target{"hole", centre, centre, between(0.5*mm, 3*mm)}
		s.reflector = synth.Hole{X: centre.X, Z: centre.Z, Diameter: s.diameter}
	default: // as strong as the face of a sphere of this diameter
		s.target = target{"pore", centre, centre, between(0.3*mm, 1.2*mm)}
		s.reflector = synth.Point{Position: centre, Strength: s.diameter / 4}
	}
	return s
}

// noise is the standard deviation of the noise, relative to the largest sample of the reference
// echo.
const noise = 0.02

// reference returns the largest sample of the echo of a hole of 1.5 mm, in the middle of the range
// of the flaws.
func (g *rig) reference(ctx context.Context) (float64, error) {
	middle := synth.Hole{X: (g.x0 + g.x1) / 2, Z: (g.top + g.bottom) / 2, Diameter: 1.5 * mm}
	c, err := g.record(ctx, faults{}, middle)
	if err != nil {
		return 0, err
	}
	return largest(c), nil
}

// capture returns the capture of the scene with noise, and the set-up that is stated.
func (s *scene) capture(ctx context.Context, reference float64) (*fmc.Capture, *wedge.Setup, error) {
	c, err := s.record(ctx, s.errors, s.reflector)
	if err != nil {
		return nil, nil, err
	}
	setup, array, err := s.build(faults{})
	if err != nil {
		return nil, nil, err
	}
	c.Array = array
	c, err = synth.Receiver{Noise: noise * reference / largest(c), Seed: s.seed}.Record(c)
	return c, setup, err
}

// record returns the capture of a reflector with errors of the set-up, without noise.
func (g *rig) record(ctx context.Context, e faults, reflector synth.Reflector) (*fmc.Capture, error) {
	setup, array, err := g.build(e)
	if err != nil {
		return nil, err
	}
	world := &synth.Scene{Setup: *setup, Array: array, Reflectors: []synth.Reflector{reflector}}
	for _, name := range g.views {
		v, err := wedge.ParseView(name)
		if err != nil {
			return nil, err
		}
		world.Views = append(world.Views, v)
	}
	return synth.Synthesise(ctx, world, synth.Recording{
		Pairs: fmc.HalfPairs(len(array.Elements)), Samples: g.samples, SampleRate: 50e6, FirstSample: g.first, Workers: 1,
	})
}

// largest returns the largest modulus of the samples.
func largest(c *fmc.Capture) float64 {
	most := 0.0
	for _, v := range c.Data {
		most = max(most, math.Abs(float64(v)))
	}
	return most
}

// read images a scene, lists what the pictures show, and judges the list.
func (s *scene) read(ctx context.Context, reference float64) (reading, error) {
	c, setup, err := s.capture(ctx, reference)
	if err != nil {
		return reading{}, err
	}
	const rim = 3 * mm
	grid, err := tfm.NewSection(min(s.from.X, s.to.X)-rim, max(s.from.X, s.to.X)+rim,
		s.from.Z-rim, min(s.to.Z+rim, s.wall+0.5*mm), 0.15*mm)
	if err != nil {
		return reading{}, err
	}
	const followNoise = 0
	flaws, err := list(ctx, c, setup, s.views, grid, followNoise, &flaw.Options{Inputs: s.inputs, Workers: 1})
	if err != nil {
		return reading{}, err
	}
	return s.judge(setup, c.Array, flaws)
}

// list returns the entries of a capture from the pictures of some views. The floor is the floor of
// [sizing.Options] in dB.
func list(
	ctx context.Context, c *fmc.Capture, setup *wedge.Setup, names []string, grid tfm.Grid, floor float64, o *flaw.Options,
) ([]flaw.Flaw, error) {
	plans, err := tfm.PlanViews(ctx, c, setup, names, grid, &tfm.Options{Workers: o.Workers})
	if err != nil {
		return nil, err
	}
	images, err := plans.Images(ctx, c)
	if err != nil {
		return nil, err
	}
	var views []flaw.View
	for i, name := range names {
		spread, err := quality.NewSpread(c, setup, name, &quality.Options{Dimension: o.Dimension})
		if err != nil {
			return nil, err
		}
		found, err := sizing.Find(images[i].Envelope(nil), &sizing.Options{Floor: floor, Spread: spread.Picture})
		if err != nil {
			return nil, err
		}
		views = append(views, flaw.View{Name: name, Image: images[i], Indications: found})
	}
	return flaw.List(ctx, c, setup, views, o)
}
