// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
)

// The captures of these tests are invented: 5 MHz elements, 0.6 mm apart.

// newCapture returns the half matrix of n elements with zero samples.
func newCapture(t testing.TB, n, samples int, rate, first float64) *fmc.Capture {
	t.Helper()
	array, err := fmc.LinearArray(n, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	c, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.HalfPairs(n), Samples: samples, SampleRate: rate, FirstSample: first})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// clone returns a copy of c with samples of its own.
func clone(c *fmc.Capture) *fmc.Capture {
	d := *c
	d.Data = slices.Clone(c.Data)
	return &d
}

// noise fills samples with Gaussian noise of the given seed.
func noise(samples []float32, seed uint64) {
	r := rand.New(rand.NewPCG(seed, 1))
	for i := range samples {
		samples[i] = float32(r.NormFloat64())
	}
}

// noisy returns a capture of two elements, three traces, of noise.
func noisy(t testing.TB, samples int, seed uint64) *fmc.Capture {
	c := newCapture(t, 2, samples, 50e6, 1e-6)
	noise(c.Data, seed)
	return c
}

// must returns the value of a constructor that is not expected to fail.
func must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// apply returns src conditioned by the steps.
func apply(t testing.TB, src *fmc.Capture, steps ...condition.Step) *fmc.Capture {
	t.Helper()
	chain := must(condition.NewChain(steps...))(t)
	dst := clone(src)
	if err := chain.Apply(dst, src, chain.NewScratch()); err != nil {
		t.Fatal(err)
	}
	return dst
}

// near fails unless got is within tolerance of want; NaN is not.
func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v, want %v to %v", what, got, want, tolerance)
	}
}

// nearAll does the same sample by sample.
func nearAll(t testing.TB, what string, got []float32, want []float64, tolerance float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d samples, want %d", what, len(got), len(want))
	}
	for k, v := range got {
		if !(math.Abs(float64(v)-want[k]) <= tolerance) {
			t.Fatalf("%s: sample %d: got %v, want %v to %v", what, k, v, want[k], tolerance)
		}
	}
}

func widened(s []float32) []float64 {
	w := make([]float64, len(s))
	for i, v := range s {
		w[i] = float64(v)
	}
	return w
}

// impulseResponse returns the first trace that the step makes of an impulse in
// the middle of a record.
func impulseResponse(t testing.TB, like *fmc.Capture, step condition.Step) []float64 {
	c := clone(like)
	clear(c.Data)
	c.Data[c.Samples/2] = 1
	return widened(apply(t, c, step).Trace(0))
}

// decibels returns 20·log10 of the size of an amplitude.
func decibels(a float64) float64 { return 20 * math.Log10(math.Abs(a)) }

// allSteps returns one step of each kind, for captures like c.
func allSteps(t testing.TB, c *fmc.Capture) map[string]condition.Step {
	reference := clone(c)
	noise(reference.Data, 99)
	pulse := make([]float32, 31)
	noise(pulse, 98)
	end := c.Time(c.Samples - 1)
	return map[string]condition.Step{
		"offset removal": must(condition.NewOffsetRemoval(c, c.Time(c.Samples/3), end))(t),
		"subtraction":    must(condition.NewSubtraction(reference))(t),
		"band-pass":      must(condition.NewBandPass(c, nil))(t),
		"matched filter": must(condition.NewMatchedFilter(c, pulse, 12))(t),
		"gain": must(condition.NewGain(c, condition.GainOptions{
			Start: c.Time(2), DecibelsPerSecond: 1e5, Spreading: 1}))(t),
		"taper": must(condition.NewTaper(c, condition.TaperOptions{
			From: c.FirstSample, Rise: (end - c.FirstSample) / 3, To: end, Fall: (end - c.FirstSample) / 4}))(t),
	}
}
