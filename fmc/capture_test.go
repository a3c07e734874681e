// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
)

// random returns a capture of n elements with the given pairs and number of samples, filled with
// seeded noise. The values are invented.
func random(t testing.TB, n int, pairs []Pair, samples int) *Capture {
	t.Helper()
	array, err := LinearArray(n, 0.6e-3, probe)
	if err != nil {
		t.Fatal(err)
	}
	c, err := New(Capture{
		Array: array, Pairs: pairs, Samples: samples, SampleRate: 50e6, FirstSample: -0.624635e-6,
	})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(uint64(n), uint64(samples)))
	for i := range c.Data {
		c.Data[i] = float32(rng.NormFloat64())
	}
	return c
}

func TestNew(t *testing.T) {
	c := random(t, 3, FullPairs(3), 4)
	kept, err := New(*c)
	if err != nil {
		t.Fatal(err)
	}
	if &kept.Data[0] != &c.Data[0] || &kept.Pairs[0] != &c.Pairs[0] {
		t.Error("New copied a slice that its documentation says it keeps")
	}
	blank := *c
	blank.Data = nil
	allocated, err := New(blank)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(make([]float32, 36), allocated.Data); diff != "" {
		t.Errorf("data of a capture made without (-want +got):\n%s", diff)
	}
}

func TestNewRefuses(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	tests := []struct {
		name   string
		change func(*Capture)
		want   string
	}{
		{"array at fault", func(c *Capture) { c.Array.Width = -1 }, "element width -1 m"},
		{"no pairs", func(c *Capture) { c.Pairs = nil }, "0 pairs: want at least 1"},
		{"receiver beyond the array", func(c *Capture) { c.Pairs[5].Rx = 3 },
			"pair 5 is 1→3: want elements 0 to 2"},
		{"transmitter beyond the array", func(c *Capture) { c.Pairs[8].Tx = 7 },
			"pair 8 is 7→2: want elements 0 to 2"},
		{"negative element", func(c *Capture) { c.Pairs[0].Tx = -1 },
			"pair 0 is -1→0: want elements 0 to 2"},
		{"negative receiver", func(c *Capture) { c.Pairs[3].Rx = -1 },
			"pair 3 is 1→-1: want elements 0 to 2"},
		{"a pair twice", func(c *Capture) { c.Pairs[7] = c.Pairs[2] },
			"pairs 2 and 7 are both 0→2: want distinct pairs"},
		{"no samples", func(c *Capture) { c.Samples = 0 }, "0 samples a trace: want 1 to"},
		{"negative samples", func(c *Capture) { c.Samples = -4 }, "-4 samples a trace"},
		{"samples whose total overflows", func(c *Capture) { c.Samples = math.MaxInt/9 + 1 },
			"samples a trace: want 1 to"},
		{"rate 0", func(c *Capture) { c.SampleRate = 0 },
			"sample rate 0 Hz: want a finite value above 0"},
		{"rate negative", func(c *Capture) { c.SampleRate = -1 }, "sample rate -1 Hz"},
		{"rate NaN", func(c *Capture) { c.SampleRate = math.NaN() }, "sample rate NaN Hz"},
		{"rate Inf", func(c *Capture) { c.SampleRate = math.Inf(1) }, "sample rate +Inf Hz"},
		{"first sample NaN", func(c *Capture) { c.FirstSample = math.NaN() },
			"time of the first sample NaN s"},
		{"first sample Inf", func(c *Capture) { c.FirstSample = math.Inf(-1) },
			"time of the first sample -Inf s"},
		{"rate so low that times overflow", func(c *Capture) { c.SampleRate = 5e-324 },
			"time of the last sample +Inf s"},
		{"ragged: a sample short", func(c *Capture) { c.Data = c.Data[1:] },
			"35 samples in Data: want 36 (9 pairs of 4 samples)"},
		{"ragged: a sample over", func(c *Capture) { c.Data = append(c.Data, 0) },
			"37 samples in Data: want 36"},
		{"empty", func(c *Capture) { c.Data = []float32{} }, "0 samples in Data: want 36"},
		{"sample NaN", func(c *Capture) { c.Data[4*7+3] = nan },
			"sample 3 of pair 7 (2→1) is NaN: want a finite value"},
		{"sample Inf", func(c *Capture) { c.Data[0] = inf }, "sample 0 of pair 0 (0→0) is +Inf"},
		{"sample -Inf", func(c *Capture) { c.Data[35] = -inf }, "sample 3 of pair 8 (2→2) is -Inf"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			c := random(t, 3, FullPairs(3), 4)
			test.change(c)
			_, err := New(*c)
			check.Error(t, err, "fmc: ", test.want)
			check.Error(t, c.Validate(), "fmc: ", test.want)
		})
	}
	t.Run("the zero capture", func(t *testing.T) {
		check.Error(t, new(Capture).Validate(), "fmc: ", "array of 0 elements")
	})
}

func TestNoCapture(t *testing.T) {
	var c *Capture
	check.Error(t, c.Validate(), "fmc: no capture", "nil")
	check.Error(t, c.ValidateTemplate(), "fmc: no capture", "nil")
}

// TestValidateTemplate: a template may lack samples, and its samples may be bad, but nothing else.
func TestValidateTemplate(t *testing.T) {
	c := random(t, 3, FullPairs(3), 4)
	for _, data := range [][]float32{nil, {1}, slices.Repeat([]float32{float32(math.NaN())}, 36)} {
		c.Data = data
		if err := c.ValidateTemplate(); err != nil {
			t.Errorf("error %v with Data %v, want none", err, data)
		}
	}
	c.Samples = 0
	check.Error(t, c.ValidateTemplate(), "0 samples a trace")
}

func TestSampleError(t *testing.T) {
	c := random(t, 2, HalfPairs(2), 3)
	c.Data[2*3+1] = float32(math.Inf(-1))
	var got *SampleError
	if !errors.As(c.CheckSamples(), &got) {
		t.Fatalf("error %v, want a SampleError", c.CheckSamples())
	}
	want := &SampleError{Index: 2, Pair: Pair{1, 1}, Sample: 1, Value: float32(math.Inf(-1))}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("error (-want +got):\n%s", diff)
	}
}

func TestExtremeSamplesAreFinite(t *testing.T) {
	c := random(t, 1, FullPairs(1), 4)
	copy(c.Data, []float32{math.MaxFloat32, -math.MaxFloat32, math.SmallestNonzeroFloat32, 0})
	if err := c.Validate(); err != nil {
		t.Error(err)
	}
}

// TestTraces checks every accessor against the formula: sample k of pair p is Data[p*K+k].
func TestTraces(t *testing.T) {
	const n, samples = 4, 5
	for _, pairs := range [][]Pair{FullPairs(n), HalfPairs(n), {{3, 0}, {1, 2}, {0, 0}, {2, 1}}} {
		c := random(t, n, pairs, samples)
		p := 0
		for pair, trace := range c.Traces() {
			if pair != pairs[p] {
				t.Errorf("%v: trace %d is of %v, want %v", c.Layout(), p, pair, pairs[p])
			}
			if diff := cmp.Diff(c.Data[p*samples:(p+1)*samples], trace); diff != "" {
				t.Errorf("%v: trace %d (-want +got):\n%s", c.Layout(), p, diff)
			}
			if got := c.Trace(p); &got[0] != &c.Data[p*samples] || cap(got) != samples {
				t.Errorf("%v: trace %d is not the part of Data that it is said to be", c.Layout(),
					p)
			}
			p++
		}
		if p != len(pairs) {
			t.Errorf("%v: %d traces, want %d", c.Layout(), p, len(pairs))
		}
		for range c.Traces() {
			break // must end the sequence without a panic
		}
	}
}

func TestIndexAndBetween(t *testing.T) {
	const n = 4
	listed := []Pair{{3, 0}, {1, 2}, {0, 0}, {2, 1}}
	for _, pairs := range [][]Pair{FullPairs(n), HalfPairs(n), listed} {
		c := random(t, n, pairs, 2)
		at := make(map[Pair]int)
		for p, pair := range pairs {
			at[pair] = p
		}
		for tx := -1; tx <= n; tx++ {
			for rx := -1; rx <= n; rx++ {
				want, held := at[Pair{tx, rx}]
				if got, ok := c.Index(tx, rx); got != want || ok != held {
					t.Errorf("%v: index of %d→%d is %d, %v, want %d, %v", c.Layout(), tx, rx, got,
						ok, want, held)
				}
				if !held {
					want, held = at[Pair{rx, tx}]
				}
				trace, ok := c.Between(tx, rx)
				if ok != held {
					t.Errorf("%v: trace between %d and %d held: %v, want %v", c.Layout(), tx, rx,
						ok, held)
				} else if ok && &trace[0] != &c.Data[2*want] {
					t.Errorf("%v: trace between %d and %d is not that of pair %d", c.Layout(), tx,
						rx, want)
				}
			}
		}
	}
}

func TestTime(t *testing.T) {
	for _, test := range []struct {
		name                  string
		samples               int
		rate, first, wantLast float64
	}{
		{"one sample lasts no time", 1, 50e6, 3e-6, 3e-6},
		{"times before the pulse are negative", 3, 1, -5, -3},
		{"101 samples at 50 MHz last 2 µs", 101, 50e6, 8e-6, 10e-6},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := random(t, 1, FullPairs(1), test.samples)
			c.SampleRate, c.FirstSample = test.rate, test.first
			if got := c.Time(0); got != test.first {
				t.Errorf("first sample at %v s, want %v", got, test.first)
			}
			check.Within(t, "time of the last sample", c.Time(c.Samples-1), test.wantLast, 1e-18)
		})
	}
}

func TestSetInt16(t *testing.T) {
	c := random(t, 2, HalfPairs(2), 2)
	raw := []int16{math.MinInt16, -1, 0, 1, 255, math.MaxInt16}
	if err := c.SetInt16(raw); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]float32{-32768, -1, 0, 1, 255, 32767}, c.Data); diff != "" {
		t.Errorf("samples (-want +got):\n%s", diff)
	}
	check.Error(t, c.SetInt16(raw[1:]), "fmc: ", "5 int16 samples: want 6 (3 pairs of 2 samples)")
}

// TestFramesDoNotAllocate checks the calls that run for every frame.
func TestFramesDoNotAllocate(t *testing.T) {
	c := random(t, 16, HalfPairs(16), 100)
	raw := make([]int16, len(c.Data))
	allocs := testing.AllocsPerRun(10, func() {
		if err := errors.Join(c.SetInt16(raw), c.CheckSamples()); err != nil {
			t.Error(err)
		}
	})
	if allocs != 0 {
		t.Errorf("%v allocations a frame, want 0", allocs)
	}
}

// TestNewTooLarge checks that a capture that does not fit into memory is an error before it is
// allocated.
func TestNewTooLarge(t *testing.T) {
	a, err := LinearArray(2, 1e-3, Array{Width: 1e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	for _, samples := range []int{math.MaxInt / 4, math.MaxInt} {
		_, err := New(Capture{Array: a, Pairs: FullPairs(2), Samples: samples, SampleRate: 1})
		check.Error(t, err, "fmc: ", "samples a trace: want 1 to")
	}
}

// TestAlike: captures are alike if nothing but their samples differs.
func TestAlike(t *testing.T) {
	c := random(t, 2, HalfPairs(2), 3)
	for name, test := range map[string]struct {
		change func(*Capture)
		want   bool
	}{
		"samples":        {func(c *Capture) { c.Data = make([]float32, 9) }, true},
		"copied pairs":   {func(c *Capture) { c.Pairs = slices.Clone(c.Pairs) }, true},
		"other pairs":    {func(c *Capture) { c.Pairs = c.Pairs[1:] }, false},
		"other rate":     {func(c *Capture) { c.SampleRate *= 2 }, false},
		"other times":    {func(c *Capture) { c.FirstSample = 1 }, false},
		"other length":   {func(c *Capture) { c.Samples++ }, false},
		"other elements": {func(c *Capture) { c.Array.Width *= 2 }, false},
		"events":         {func(c *Capture) { c.Events = []Event{{}} }, false},
	} {
		other := *c
		test.change(&other)
		if got := c.Alike(&other); got != test.want {
			t.Errorf("%s: alike %v, want %v", name, got, test.want)
		}
	}
}
