// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"fmt"
	"log"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
)

// Condition a raw capture: look for saturation, then remove the digitiser's
// offset, level the attenuation and blank the dead zone. The capture is
// invented: one element, a ring-down, two echoes of a back wall.
func Example() {
	array, err := fmc.LinearArray(1, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	raw, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(1), Samples: 1500, SampleRate: 50e6})
	if err != nil {
		log.Fatal(err)
	}
	echo := func(t, at float64) float64 {
		s := (t - at) / 0.2e-6
		return math.Exp(-s*s) * math.Cos(2*math.Pi*5e6*(t-at))
	}
	for k := range raw.Data {
		t := raw.Time(k)
		v := 300 + 90000*echo(t, 0.4e-6) + 8000*echo(t, 10e-6) + 2000*echo(t, 20e-6)
		raw.Data[k] = float32(min(max(math.Round(v), -32768), 32767))
	}

	saturated, err := condition.AppendSaturations(nil, raw, -32768, 32767)
	if err != nil {
		log.Fatal(err)
	}
	for _, s := range saturated {
		fmt.Printf("trace %v: %d samples saturated, from %.2f µs on\n", s.Pair, s.Count, raw.Time(s.First)*1e6)
	}

	// The plan is made once, and runs for every frame.
	offset, err := condition.NewOffsetRemoval(raw, 25e-6, math.Inf(1))
	if err != nil {
		log.Fatal(err)
	}
	gain, err := condition.NewGain(raw, condition.GainOptions{Start: 10e-6, Spreading: 1, DecibelsPerSecond: 0.6e6})
	if err != nil {
		log.Fatal(err)
	}
	taper, err := condition.NewTaper(raw, condition.TaperOptions{From: 1.5e-6, Rise: 0.5e-6, To: math.Inf(1)})
	if err != nil {
		log.Fatal(err)
	}
	chain, err := condition.NewChain(offset, gain, taper)
	if err != nil {
		log.Fatal(err)
	}
	if err := chain.Apply(raw, raw, chain.NewScratch()); err != nil {
		log.Fatal(err)
	}

	for _, t := range []float64{0.4e-6, 10e-6, 20e-6} {
		k := int(math.Round(t * raw.SampleRate))
		fmt.Printf("%4.1f µs: %5.0f\n", t*1e6, raw.Data[k])
	}
	// Output:
	// trace 0→0: 11 samples saturated, from 0.20 µs on
	//  0.4 µs:     0
	// 10.0 µs:  8000
	// 20.0 µs:  7981
}

// Up-sample a capture by 4, to look at an echo between its samples.
func ExampleResampler() {
	array, err := fmc.LinearArray(1, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	c, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(1), Samples: 400, SampleRate: 25e6})
	if err != nil {
		log.Fatal(err)
	}
	for k := range c.Data {
		t := c.Time(k) - 8.01e-6 // the echo's peak lies between two samples
		c.Data[k] = float32(math.Exp(-t*t/0.09e-12) * math.Cos(2*math.Pi*5e6*t))
	}
	resampler, err := condition.NewResampler(c, 4, 1)
	if err != nil {
		log.Fatal(err)
	}
	fine, err := resampler.Resampled(c)
	if err != nil {
		log.Fatal(err)
	}
	peak := func(c *fmc.Capture) {
		at := 0
		for k, v := range c.Data {
			if v > c.Data[at] {
				at = k
			}
		}
		fmt.Printf("%3.0f MHz: %.2f at %.2f µs\n", c.SampleRate/1e6, c.Data[at], c.Time(at)*1e6)
	}
	peak(c)
	peak(fine)
	// Output:
	//  25 MHz: 0.95 at 8.00 µs
	// 100 MHz: 1.00 at 8.01 µs
}
