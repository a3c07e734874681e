// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"fmt"
	"log"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
)

// A raw capture is conditioned: report saturation, then remove the offset of the digitiser, level
// the attenuation and blank the dead zone. The capture is invented: one element, a ring-down, and
// two echoes of a back wall.
func Example() {
	array, err := fmc.LinearArray(1, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	raw, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(1), Samples: 1500,
		SampleRate: 50e6})
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
		fmt.Printf("trace %v: %d samples saturated, from %.2f µs on\n", s.Pair, s.Count,
			raw.Time(s.First)*1e6)
	}

	// The chain is made once, and runs for every frame.
	chain, err := condition.NewChain(raw,
		condition.OffsetRemoval{From: 25e-6, To: math.Inf(1)},
		condition.Gain{Start: 10e-6, Spreading: 1, DecibelsPerSecond: 0.6e6},
		condition.Window{From: 1.5e-6, Rise: 0.5e-6, To: math.Inf(1)},
	)
	if err != nil {
		log.Fatal(err)
	}
	if err := chain.Apply(raw, raw); err != nil {
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

// A capture is resampled by 4, to look at an echo between its samples.
func ExampleResampler() {
	array, err := fmc.LinearArray(1, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	c, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(1), Samples: 400,
		SampleRate: 25e6})
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

// oneTrace returns a capture of one element with 400 samples of zero.
func oneTrace() *fmc.Capture {
	array, err := fmc.LinearArray(1, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	c, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(1), Samples: 400,
		SampleRate: 50e6})
	if err != nil {
		log.Fatal(err)
	}
	return c
}

// The response of a filter, before it is used.
func ExampleChain_Response() {
	chain, err := condition.NewChain(oneTrace(), condition.BandPass{Low: 2e6, High: 8e6})
	if err != nil {
		log.Fatal(err)
	}
	for _, f := range []float64{0.5e6, 2e6, 5e6, 8e6} {
		fmt.Printf("%.1f MHz: %.3f\n", f/1e6, real(chain.Response(f)))
	}
	// Output:
	// 0.5 MHz: 0.007
	// 2.0 MHz: 0.500
	// 5.0 MHz: 1.000
	// 8.0 MHz: 0.500
}

// An echo is 0.3 of the pulse that the element sends, and lies in noise. The matched filter shows
// its time and its amplitude. The samples are invented.
func ExampleMatchedFilter() {
	pulse := []float32{0, -0.3, 0.8, 1, -0.9, -0.6, 0.5, 0.2}
	c, noise := oneTrace(), rand.New(rand.NewPCG(1, 2))
	for k := range c.Data {
		c.Data[k] = float32(0.05 * noise.NormFloat64())
	}
	for i, v := range pulse {
		c.Data[200+i-3] += 0.3 * v // sample 3 of the pulse is its centre
	}
	chain, err := condition.NewChain(c, condition.MatchedFilter{Pulse: pulse, Centre: 3})
	if err != nil {
		log.Fatal(err)
	}
	if err := chain.Apply(c, c); err != nil {
		log.Fatal(err)
	}
	at := slices.Index(c.Data, slices.Max(c.Data))
	fmt.Printf("echo of %.1f at %.2f µs\n", c.Data[at], 1e6*c.Time(at))
	// Output:
	// echo of 0.3 at 4.00 µs
}

// The ring-down of the element repeats in every capture. A reference without the echo removes it;
// the mean of several frames makes a reference of little noise. The samples are invented.
func ExampleAverage() {
	ringing, noise := oneTrace(), rand.New(rand.NewPCG(1, 2))
	ring := func(echo float64) *fmc.Capture {
		for k := range ringing.Data {
			t := ringing.Time(k)
			v := 1000*math.Exp(-t/1e-6) + 10*noise.NormFloat64()
			if k == 100 {
				v += echo
			}
			ringing.Data[k] = float32(v)
		}
		return ringing
	}
	average, err := condition.NewAverage(ringing)
	if err != nil {
		log.Fatal(err)
	}
	for range 100 {
		if err := average.Add(ring(0)); err != nil {
			log.Fatal(err)
		}
	}
	reference := oneTrace()
	if err := average.Mean(reference); err != nil {
		log.Fatal(err)
	}
	chain, err := condition.NewChain(reference, condition.Subtraction{Reference: reference})
	if err != nil {
		log.Fatal(err)
	}
	inspected := ring(200)
	fmt.Printf("before: %4.0f and %4.0f\n", inspected.Data[0], inspected.Data[100])
	if err := chain.Apply(inspected, inspected); err != nil {
		log.Fatal(err)
	}
	fmt.Printf("after:  %4.0f and %4.0f\n", inspected.Data[0], inspected.Data[100])
	average.Reset() // for the next reference
	// Output:
	// before: 1001 and  331
	// after:     2 and  196
}
