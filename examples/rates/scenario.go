// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// scenario is a capture of noise and a grid, as in the benchmarks of package tfm: 5 MHz, a pitch of
// 0.6 mm, 50 million samples a second, and pixels 0.2 mm apart from a depth of 3 mm on.
type scenario struct {
	name     string
	elements int
	matrix   bool // a square of elements × elements
	full     bool // full matrix; otherwise half matrix
	pixels   int  // along each axis
	samples  int
}

var cases = []scenario{
	{name: "A", elements: 16, pixels: 256, samples: 2048},
	{name: "B", elements: 64, full: true, pixels: 256, samples: 2048},
	{name: "C", elements: 64, pixels: 512, samples: 4096},
	{name: "D", elements: 128, full: true, pixels: 512, samples: 4096},
	{name: "E", elements: 16, matrix: true, pixels: 64, samples: 512},
}

// capture returns a capture of noise.
func (s scenario) capture() (*fmc.Capture, error) {
	like := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	array, err := fmc.LinearArray(s.elements, 0.6e-3, like)
	if s.matrix {
		array, err = fmc.MatrixArray(s.elements, s.elements, 0.6e-3, 0.6e-3, like)
	}
	if err != nil {
		return nil, err
	}
	c := fmc.Capture{Array: array, Samples: s.samples, SampleRate: 50e6}
	c.Pairs = fmc.HalfPairs(len(array.Elements))
	if s.full {
		c.Pairs = fmc.FullPairs(len(array.Elements))
	}
	c.Data = make([]float32, len(c.Pairs)*s.samples)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range c.Data {
		c.Data[i] = float32(rng.IntN(1<<14) - 1<<13)
	}
	return fmc.New(c)
}

// grid returns the section, or the volume, under the array.
func (s scenario) grid() (tfm.Grid, error) {
	const step, first = 0.2e-3, 3e-3
	half, last := step*float64(s.pixels)/2, step*float64(s.pixels-1)
	if s.matrix {
		from := r3.Vec{X: -half, Y: -half, Z: first}
		to := r3.Add(from, r3.Vec{X: last, Y: last, Z: last})
		return tfm.NewVolume(from, to, r3.Vec{X: step, Y: step, Z: step})
	}
	return tfm.NewSection(-half, last-half, first, first+last, step)
}

// report measures a case, and writes a line for each precision.
func (m meter) report(ctx context.Context, w io.Writer, s scenario) error {
	c, err := s.capture()
	if err != nil {
		return err
	}
	g, err := s.grid()
	if err != nil {
		return err
	}
	path, err := wedge.NewPath([]wedge.Leg{{Speed: 5900}}, nil)
	if err != nil {
		return err
	}
	times, err := path.Times(ctx, c.Array.Elements, g.Points(), nil)
	if err != nil {
		return err
	}
	for _, precision := range []tfm.Precision{tfm.Single, tfm.Fixed16} {
		plan, err := tfm.NewPlan(c, g, times, times, &tfm.Options{Precision: precision})
		if err != nil {
			return err
		}
		single, err := tfm.NewPlan(c, g, times, times, &tfm.Options{Precision: precision, Workers: 1})
		if err != nil {
			return err
		}
		rates, err := m.frameRates(ctx, single, plan, c)
		if err != nil {
			return err
		}
		lookups := rates.reconstruct * float64(len(c.Pairs)) * float64(g.Len())
		fmt.Fprintf(w, "%s\t%d\t%d\t%d\t%v\t%s\t%.4g\t%.3g\t%.4g\t%.2f ×\t\n",
			s.name, len(c.Array.Elements), len(c.Pairs), g.Len(), precision, plan.Kernel(),
			rates.reconstruct, lookups/1e9, rates.chain, rates.cores)
	}
	return nil
}

// frameRates holds the rates of a case.
type frameRates struct {
	reconstruct, chain float64 // images a second on one core
	cores              float64 // speed of all cores relative to one core
}

// frameRates measures the reconstruction and the whole chain. single is a plan for one core, plan a
// plan for all cores.
func (m meter) frameRates(ctx context.Context, single, plan *tfm.Plan, c *fmc.Capture) (
	r frameRates, err error) {
	samples := make([]int16, len(c.Data))
	for i, v := range c.Data {
		samples[i] = int16(v)
	}
	image := tfm.NewImage(plan.Grid())
	var envelope *tfm.Envelope
	var levels *tfm.Decibels
	alone, all := single.NewScratch(), plan.NewScratch()
	reconstruct := func(s *tfm.Scratch) func() error {
		return func() error { return s.ReconstructInt16(ctx, image, samples) }
	}
	chain := func() error {
		if err := alone.ReconstructInt16(ctx, image, samples); err != nil {
			return err
		}
		envelope = image.Envelope(envelope)
		peak, _ := envelope.Peak()
		levels, err = envelope.Decibels(levels, peak, -40)
		return err
	}
	rates, err := m.rates(reconstruct(alone), chain, reconstruct(all))
	if err != nil {
		return r, err
	}
	return frameRates{reconstruct: rates[0], chain: rates[1], cores: rates[2] / rates[0]}, nil
}
