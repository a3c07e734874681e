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
	"github.com/isochron-imaging/isochron/internal/check"
)

// The captures of these tests are invented: 5 MHz elements, 0.6 mm apart.

// newCapture returns the half matrix of n elements with zero samples.
func newCapture(t testing.TB, n, samples int, rate, first float64) *fmc.Capture {
	t.Helper()
	array, err := fmc.LinearArray(n, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	c, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.HalfPairs(n), Samples: samples,
		SampleRate: rate, FirstSample: first})
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

// apply returns src conditioned by the steps.
func apply(t testing.TB, src *fmc.Capture, steps ...condition.Step) *fmc.Capture {
	t.Helper()
	dst := clone(src)
	if err := chained(src, steps...).Apply(dst, src); err != nil {
		t.Fatal(err)
	}
	return dst
}

// allWithin fails the test unless got differs from want by at most tolerance, in every sample.
func allWithin(t testing.TB, what string, got []float32, want []float64, tolerance float64) {
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

// impulseResponse returns the output of a step, on the first trace, for an impulse in the middle of
// the record.
func impulseResponse(t testing.TB, like *fmc.Capture, step condition.Step) []float64 {
	c := clone(like)
	clear(c.Data)
	c.Data[c.Samples/2] = 1
	return widened(apply(t, c, step).Trace(0))
}

// decibels returns 20·log10 of the size of an amplitude.
func decibels(a float64) float64 { return 20 * math.Log10(math.Abs(a)) }

// allSteps returns one step of each kind, for captures like c.
func allSteps(c *fmc.Capture) []condition.Step {
	reference := clone(c)
	noise(reference.Data, 99)
	pulse := make([]float32, 31)
	noise(pulse, 98)
	end := c.Time(c.Samples - 1)
	length := end - c.FirstSample
	return []condition.Step{
		condition.OffsetRemoval{From: c.Time(c.Samples / 3), To: end},
		condition.Subtraction{Reference: reference},
		condition.BandPass{},
		condition.MatchedFilter{Pulse: pulse, Centre: 12},
		condition.Gain{Start: c.Time(2), DecibelsPerSecond: 1e5, Spreading: 1},
		condition.Window{From: c.FirstSample, Rise: length / 3, To: end, Fall: length / 4},
	}
}

// chained returns the chain of steps for captures like c.
func chained(c *fmc.Capture, steps ...condition.Step) *condition.Chain {
	return check.Must(condition.NewChain(c, steps...))
}
