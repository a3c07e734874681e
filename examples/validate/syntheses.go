// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// syntheses checks computed captures against the far-field laws of echoes, and the health of
// full-wave captures in which faults were planted.
func syntheses() []check {
	const laws = "Krautkrämer 1990, distance laws, from memory"
	ratio := func(a, b func() (float64, error)) func() (float64, error) { // dB
		return func() (float64, error) {
			x, err := a()
			if err != nil {
				return 0, err
			}
			y, err := b()
			return 20 * math.Log10(x/y), err
		}
	}
	down := r3.Vec{Z: -1}
	disc := func(depth, diameter float64) func() (float64, error) {
		return echoOf(synth.FlatBottomHole{Position: r3.Vec{Z: depth}, Normal: down, Diameter: diameter})
	}
	hole := func(depth, diameter float64) func() (float64, error) {
		return echoOf(synth.Hole{Z: depth, Diameter: diameter})
	}
	wall := wallEcho(100e-3)
	return []check{
		{"disc of 3 mm against a wall, both at 100 mm", closedForm, laws, "-20.39799", "dB", 0.05, ratio(disc(100e-3, 3e-3), wall)},
		{"disc of 3 mm at 50 mm against a wall at 100 mm", closedForm, laws, "-8.35679", "dB", 0.05, ratio(disc(50e-3, 3e-3), wall)},
		{"hole of 3 mm against a wall, both at 100 mm", closedForm, laws, "-18.2391", "dB", 0.6, ratio(hole(100e-3, 3e-3), wall)},
		{"hole, double distance", closedForm, laws, "-9.0309", "dB", 0.04, ratio(hole(200e-3, 3e-3), hole(100e-3, 3e-3))},
		{"disc, double distance", closedForm, laws, "-12.0412", "dB", 0.04, ratio(disc(200e-3, 3e-3), disc(100e-3, 3e-3))},
		{"wall, double distance", closedForm, laws, "-6.0206", "dB", 0.04, ratio(wallEcho(200e-3), wall)},
		{"disc, double diameter", closedForm, laws, "12.0412", "dB", 0.04, ratio(disc(100e-3, 2e-3), disc(100e-3, 1e-3))},
	}
}

// recorded returns the largest sample of a scene of one small element in contact with steel, 4
// MHz.
func recorded(s synth.Scene) (float64, error) {
	s.Array = fmc.Array{Elements: []r3.Vec{{}}, Width: 1e-6, CentreFrequency: 4e6, Bandwidth: 0.05}
	c, err := synth.Synthesise(context.Background(), &s, synth.Recording{Samples: 9000, SampleRate: 100e6})
	if err != nil {
		return 0, err
	}
	largest := 0.0
	for _, v := range c.Data {
		largest = max(largest, math.Abs(float64(v)))
	}
	return largest, nil
}

// echoOf returns the amplitude of the echo of a reflector in thick steel.
func echoOf(r synth.Reflector) func() (float64, error) {
	return func() (float64, error) {
		setup, err := wedge.NewPlate(nil, blockSteel, 300e-3)
		if err != nil {
			return 0, err
		}
		view, err := wedge.ParseView("L-L")
		if err != nil {
			return 0, err
		}
		return recorded(synth.Scene{Setup: *setup, Reflectors: []synth.Reflector{r}, Views: []wedge.View{view}})
	}
}

// wallEcho returns the amplitude of the echo of a back wall.
func wallEcho(depth float64) func() (float64, error) {
	return func() (float64, error) {
		setup, err := wedge.NewPlate(nil, blockSteel, depth)
		if err != nil {
			return 0, err
		}
		return recorded(synth.Scene{Setup: *setup, Walls: [][]material.Mode{{material.L, material.L}}})
	}
}

// healths checks what the health of a capture says of faults that were planted in block16.
func healths() []check {
	const planted = "full wave, block16, with the fault planted in element 5"
	const element = 5
	judge := func(plant func(c *fmc.Capture), of func(*health.Report) float64) func() (float64, error) {
		return func() (float64, error) {
			s, err := read(testdata("block16"))
			if err != nil {
				return 0, err
			}
			c := *s.Capture
			c.Data = append([]float32(nil), c.Data...)
			plant(&c)
			r, err := health.Assess(&c, nil)
			if err != nil {
				return 0, err
			}
			return of(r), nil
		}
	}
	scaled := func(factor float32) func(*fmc.Capture) { // reception of the element
		return func(c *fmc.Capture) {
			for p, pair := range c.Pairs {
				if pair.Rx == element {
					for k, v := range c.Trace(p) {
						c.Trace(p)[k] = factor * v
					}
				}
			}
		}
	}
	found := func(kind health.Kind) func(*health.Report) float64 {
		return func(r *health.Report) float64 {
			n := 0.0
			for _, f := range r.Findings {
				if f.Kind == kind && len(f.Elements) == 1 && f.Elements[0] == element && f.Receive {
					n++
				}
			}
			return n
		}
	}
	drift := func(r *health.Report) float64 { return float64(r.Elements[element].Receive.Drift) * 50e6 }
	relative := func(r *health.Report) float64 { return float64(r.Elements[element].Receive.Level) }
	return []check{
		{"receiver without a signal: findings of a dead end", fullWave, planted, "1", "", 0, judge(scaled(0), found(health.Dead))},
		{"receiver with the sign turned: findings of a reversed end", fullWave, planted, "1", "", 0, judge(scaled(-1), found(health.Reversed))},
		{"receiver at half: change of its level", fullWave, planted, "-6.02", "dB", 0.5, difference(judge(scaled(0.5), relative), judge(scaled(1), relative))},
		{"receiver four samples late: change of its time zero", fullWave, planted, "4", "samples", 0.3, difference(
			judge(late(element, 4), drift), judge(late(element, 0), drift))},
		{"noise of 2000 in all traces: level of the noise", fullWave, "full wave, block16, with planted noise", "2000", "", 80,
			judge(noisy(2000), func(r *health.Report) float64 { return float64(r.NoiseFloor) })},
		{"signal-to-noise ratio less 20·lg of peak over noise", identity, "algebra, definition in dB", "0", "dB", 0.5,
			judge(noisy(2000), func(r *health.Report) float64 {
				return float64(r.SNR) - 20*math.Log10(float64(r.EchoPeak/r.NoiseFloor))
			})},
		{"centre frequency", fullWave, "full wave, block16: 3 MHz", "3", "MHz", 0.2,
			judge(scaled(1), func(r *health.Report) float64 { return float64(r.CentreFrequency) / 1e6 })},
	}
}

// noisy returns a fault: white noise of a standard deviation in the unit of the samples.
func noisy(deviation float64) func(*fmc.Capture) {
	return func(c *fmc.Capture) {
		random := rand.New(rand.NewPCG(5, 6))
		for i := range c.Data {
			c.Data[i] += float32(deviation * random.NormFloat64())
		}
	}
}

// late returns a fault: an element receives late by whole samples.
func late(element, samples int) func(*fmc.Capture) {
	return func(c *fmc.Capture) {
		for p, pair := range c.Pairs {
			if trace := c.Trace(p); pair.Rx == element {
				copy(trace[samples:], append([]float32(nil), trace...))
			}
		}
	}
}

// difference returns the difference of two results.
func difference(a, b func() (float64, error)) func() (float64, error) {
	return func() (float64, error) {
		x, err := a()
		if err != nil {
			return 0, err
		}
		y, err := b()
		return x - y, err
	}
}
