// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
	"github.com/isochron-imaging/isochron/internal/check"
)

func TestOffsetRemoval(t *testing.T) {
	c := noisy(t, 777, 21)
	for i := range c.Data {
		c.Data[i] += float32(100 * (i / c.Samples))
	}
	whole := condition.OffsetRemoval{From: math.Inf(-1), To: math.Inf(1)}
	gated := condition.OffsetRemoval{From: c.Time(100), To: c.Time(299)}
	for name, row := range map[string]struct {
		step     condition.Step
		from, to int
	}{"whole": {whole, 0, 777}, "gated": {gated, 100, 300}} {
		got := apply(t, c, row.step)
		for p := range c.Pairs {
			mean := 0.0
			for _, v := range c.Trace(p)[row.from:row.to] {
				mean += float64(v) / float64(row.to-row.from)
			}
			want := widened(c.Trace(p))
			for k := range want {
				want[k] -= mean
			}
			allWithin(t, name, got.Trace(p), want, 2e-5)
		}
	}
}

// TestOffsetOfTones checks the bound in the documentation: a tone moves the mean by at most the
// bound, and by the bound at the worst phase.
func TestOffsetOfTones(t *testing.T) {
	const n, rate = 512, 50e6
	c := newCapture(t, 1, n, rate, 0)
	step := condition.OffsetRemoval{From: 0, To: 1}
	for _, f := range []float64{0.13e6, 1.01e6, 4.97e6, 16e6} {
		bound := math.Abs(math.Sin(math.Pi*f*n/rate) / (n * math.Sin(math.Pi*f/rate)))
		worst := 0.0
		for i := range 64 {
			for k := range c.Data {
				c.Data[k] = float32(math.Cos(2*math.Pi*f*c.Time(k) + float64(i)*math.Pi/64))
			}
			worst = max(worst, math.Abs(float64(apply(t, c, step).Data[0]-c.Data[0])))
		}
		check.Within(t, "largest mean over the bound", worst/bound, 1, 2e-3)
	}
}

// TestGain compares with values worked by hand, and all samples with the formula of the
// documentation.
func TestGain(t *testing.T) {
	c := newCapture(t, 1, 1001, 50e6, -1e-6)
	for i := range c.Data {
		c.Data[i] = 2
	}
	for _, row := range []struct {
		name    string
		gain    condition.Gain
		t, want float64
	}{
		{"nothing", condition.Gain{}, 10e-6, 1},
		{"before the start", condition.Gain{Start: 2e-6, DecibelsPerSecond: 1e6}, 1e-6, 1},
		{"before time 0", condition.Gain{Start: 2e-6, Spreading: 1}, -1e-6, 1},
		{"at the start", condition.Gain{Start: 2e-6, DecibelsPerSecond: 1e6, Spreading: 2},
			2e-6, 1},
		// 20 dB is a factor of 10.
		{"exponential", condition.Gain{Start: 2e-6, DecibelsPerSecond: 2e6}, 12e-6, 10},
		{"exponential from a time before 0",
			condition.Gain{Start: -1e-6, DecibelsPerSecond: 2e6}, 9e-6, 10},
		{"two dimensions", condition.Gain{Start: 4e-6, Spreading: 0.5}, 16e-6, 2},
		{"three dimensions", condition.Gain{Start: 4e-6, Spreading: 1}, 16e-6, 4},
		{"small reflector in three", condition.Gain{Start: 4e-6, Spreading: 2}, 16e-6, 16},
		{"both", condition.Gain{Start: 4e-6, Spreading: 1, DecibelsPerSecond: 20 / 12e-6},
			16e-6, 40},
		{"limit", condition.Gain{Start: 2e-6, DecibelsPerSecond: 1e8, LimitDecibels: 40},
			12e-6, 100},
		{"limit by default", condition.Gain{Start: 2e-6, DecibelsPerSecond: 1e9}, 12e-6,
			1000},
	} {
		g := row.gain
		got := apply(t, c, g).Data
		want := make([]float64, c.Samples)
		for k := range want {
			want[k] = 2
			if at := c.Time(k); at > g.Start {
				factor := math.Pow(at/g.Start, g.Spreading) *
					math.Pow(10, g.DecibelsPerSecond*(at-g.Start)/20)
				limit := 1000.0 // 60 dB, the default
				if g.LimitDecibels != 0 {
					limit = math.Pow(10, g.LimitDecibels/20)
				}
				want[k] = 2 * min(factor, limit)
			}
		}
		allWithin(t, row.name, got, want, 1e-7*2000)
		k := int(math.Round((row.t - c.FirstSample) * c.SampleRate))
		check.Within(t, row.name+", by hand", float64(got[k])/(2*row.want), 1, 1e-6)
	}
}

// TestGainOfExtremeTimes checks that the gain is finite where differences and ratios of times
// overflow.
func TestGainOfExtremeTimes(t *testing.T) {
	c := newCapture(t, 1, 2, 50e6, 1.7e308)
	copy(c.Data, []float32{1, 1})
	for _, g := range []condition.Gain{
		{}, {Start: -1.7e308}, {Start: 5e-324, Spreading: 4, DecibelsPerSecond: 1e9},
	} {
		for _, v := range apply(t, c, g).Data {
			if !(v >= 1 && v <= 1000) {
				t.Errorf("%+v: gain %v", g, v)
			}
		}
	}
}

// TestGainLevels checks that an echo that falls by the law becomes level.
func TestGainLevels(t *testing.T) {
	c := newCapture(t, 1, 1000, 50e6, 2e-6)
	const start, loss = 5e-6, 3e5
	want := make([]float64, c.Samples)
	for k := range want {
		s := max(c.Time(k), start)
		c.Data[k] = float32(start / s * math.Exp(-loss*(s-start)*math.Ln10/20))
		want[k] = 1
	}
	g := condition.Gain{Start: start, Spreading: 1, DecibelsPerSecond: loss}
	allWithin(t, "levelled", apply(t, c, g).Data, want, 1e-6)
}

func TestGainErrors(t *testing.T) {
	c := newCapture(t, 1, 10, 50e6, 0)
	for _, o := range []condition.Gain{
		{DecibelsPerSecond: -1}, {DecibelsPerSecond: math.NaN()}, {DecibelsPerSecond: math.Inf(1)},
		{Spreading: -1}, {Spreading: 5, Start: 1}, {Spreading: math.NaN()},
		{Spreading: 1}, {Spreading: 1, Start: -1}, {Start: math.NaN()}, {Start: math.Inf(-1)},
		{Start: 10, DecibelsPerSecond: 1e6}, {DecibelsPerSecond: 0.5}, // in µs, and in dB/µs
		{LimitDecibels: -1}, {LimitDecibels: 201}, {LimitDecibels: math.NaN()},
	} {
		_, err := condition.NewChain(c, o)
		check.Error(t, err, "condition: ")
	}
}

func TestWindow(t *testing.T) {
	c := newCapture(t, 1, 101, 1e6, 10e-6) // 10 to 110 µs, 1 µs apart
	inf := math.Inf(1)
	for _, row := range []struct {
		name   string
		window condition.Window
		want   map[int]float64 // weights by sample
	}{
		{"nothing", condition.Window{From: -inf, To: inf},
			map[int]float64{0: 1, 50: 1, 100: 1}},
		{"dead zone, hard", condition.Window{From: 30e-6, To: inf},
			map[int]float64{0: 0, 19: 0, 20: 1, 100: 1}},
		{"dead zone, soft", condition.Window{From: 30e-6, Rise: 10e-6, To: inf},
			map[int]float64{0: 0, 20: 0, 21: (1 - math.Cos(math.Pi/10)) / 2, 25: 0.5, 30: 1,
				100: 1}},
		{"end, hard", condition.Window{From: -inf, To: 60e-6},
			map[int]float64{0: 1, 50: 1, 51: 0}},
		{"end, soft", condition.Window{From: -inf, To: 60e-6, Fall: 20e-6},
			map[int]float64{0: 1, 30: 1, 40: 0.5, 50: 0, 51: 0}},
		{"both ends of the record",
			condition.Window{From: -inf, Rise: 4e-6, To: inf, Fall: 4e-6},
			map[int]float64{0: 0, 2: 0.5, 4: 1, 96: 1, 98: 0.5, 100: 0}},
		{"one sample", condition.Window{From: 30e-6, To: 30e-6},
			map[int]float64{19: 0, 20: 1, 21: 0}},
		{"a Hann window", condition.Window{From: -inf, Rise: 50e-6, To: inf, Fall: 50e-6},
			map[int]float64{0: 0, 25: 0.5, 50: 1, 75: 0.5, 100: 0}},
	} {
		for i := range c.Data {
			c.Data[i] = 3
		}
		got := apply(t, c, row.window).Data
		for k, want := range row.want {
			check.Within(t, row.name, float64(got[k]), 3*want, 1e-6)
		}
	}
}

func TestWindowErrors(t *testing.T) {
	c := newCapture(t, 1, 101, 1e6, 10e-6)
	for name, o := range map[string]condition.Window{
		"NaN":                  {From: math.NaN(), To: 50e-6},
		"crossed":              {From: 50e-6, To: 40e-6},
		"before the record":    {From: 0, To: 5e-6},
		"after the record":     {From: 1, To: 2},
		"edges overlap":        {From: 20e-6, To: 50e-6, Rise: 20e-6, Fall: 11e-6},
		"negative edge":        {From: 20e-6, To: 50e-6, Rise: -1e-6},
		"infinite edge":        {From: 20e-6, To: 50e-6, Fall: math.Inf(1)},
		"NaN edge":             {From: 20e-6, To: 50e-6, Fall: math.NaN()},
		"no sample in between": {From: 20.3e-6, To: 20.6e-6},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := condition.NewChain(c, o)
			check.Error(t, err, "condition: ")
		})
	}
	_, err := condition.NewChain(c, condition.OffsetRemoval{From: 1, To: 2})
	check.Error(t, err, "condition: gate from 1 to 2 s",
		"enclose a sample of 1e-05 to 0.00011 s, every 1e-06 s")
}

// TestSubtraction checks that an echo on a ring-down remains when a capture without the echo is
// subtracted, even if the ring-down is far larger.
func TestSubtraction(t *testing.T) {
	quiet := noisy(t, 300, 22)
	for i := range quiet.Data {
		quiet.Data[i] *= 1000
	}
	inspected := clone(quiet)
	echo := clone(quiet)
	noise(echo.Data, 23)
	for i, v := range echo.Data {
		inspected.Data[i] += v
	}
	got := apply(t, inspected, condition.Subtraction{Reference: quiet})
	allWithin(t, "difference", got.Data, widened(echo.Data), 3e-4)

	// A windowed reference changes the samples up to the end of the ring-down, and no later ones.
	end := condition.Window{From: math.Inf(-1), To: quiet.Time(99)}
	got = apply(t, inspected, condition.Subtraction{Reference: apply(t, quiet, end)})
	for p := range got.Pairs {
		allWithin(t, "within the ring-down", got.Trace(p)[:100], widened(echo.Trace(p)[:100]), 3e-4)
		allWithin(t, "after the ring-down", got.Trace(p)[100:], widened(inspected.Trace(p)[100:]),
			0)
	}
}

func TestSubtractionErrors(t *testing.T) {
	c := noisy(t, 5, 24)
	bad := clone(c)
	bad.Data[3] = float32(math.NaN())
	for want, reference := range map[string]*fmc.Capture{
		"no reference": nil,
		"reference has 0 samples a trace: want 5": {},
		"sample 3 of pair 0 (0→0) is NaN":         bad,
		"14 samples in Data of reference: want 15": {Pairs: c.Pairs, Samples: 5, SampleRate: 50e6,
			FirstSample: 1e-6, Data: c.Data[1:]},
		"first sample of reference is at 0 s": {Pairs: c.Pairs, Samples: 5, SampleRate: 50e6,
			Data: c.Data},
	} {
		_, err := condition.NewChain(c, condition.Subtraction{Reference: reference})
		check.Error(t, err, want, "(step 0)")
	}
}
