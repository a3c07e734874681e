// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"math"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
)

func TestOffsetRemoval(t *testing.T) {
	c := noisy(t, 777, 21)
	for i := range c.Data {
		c.Data[i] += float32(100 * (i / c.Samples))
	}
	whole := must(condition.NewOffsetRemoval(c, math.Inf(-1), math.Inf(1)))(t)
	gated := must(condition.NewOffsetRemoval(c, c.Time(100), c.Time(299)))(t)
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
			nearAll(t, name, got.Trace(p), want, 2e-5)
		}
	}
}

// A tone moves the mean by no more than the bound of the doc, and reaches it at
// the worst phase.
func TestOffsetOfTones(t *testing.T) {
	const n, rate = 512, 50e6
	c := newCapture(t, 1, n, rate, 0)
	step := must(condition.NewOffsetRemoval(c, 0, 1))(t)
	for _, f := range []float64{0.13e6, 1.01e6, 4.97e6, 16e6} {
		bound := math.Abs(math.Sin(math.Pi*f*n/rate) / (n * math.Sin(math.Pi*f/rate)))
		worst := 0.0
		for i := range 64 {
			for k := range c.Data {
				c.Data[k] = float32(math.Cos(2*math.Pi*f*c.Time(k) + float64(i)*math.Pi/64))
			}
			worst = max(worst, math.Abs(float64(apply(t, c, step).Data[0]-c.Data[0])))
		}
		near(t, "largest mean over the bound", worst/bound, 1, 2e-3)
	}
}

func TestGain(t *testing.T) {
	c := newCapture(t, 1, 1001, 50e6, -1e-6)
	for i := range c.Data {
		c.Data[i] = 2
	}
	for _, row := range []struct {
		name    string
		options condition.GainOptions
		t, want float64
	}{
		{"nothing", condition.GainOptions{}, 10e-6, 1},
		{"before the start", condition.GainOptions{Start: 2e-6, DecibelsPerSecond: 1e6}, 1e-6, 1},
		{"before time 0", condition.GainOptions{Start: 2e-6, Spreading: 1}, -1e-6, 1},
		{"at the start", condition.GainOptions{Start: 2e-6, DecibelsPerSecond: 1e6, Spreading: 2}, 2e-6, 1},
		// 20 dB is a factor of 10.
		{"exponential", condition.GainOptions{Start: 2e-6, DecibelsPerSecond: 2e6}, 12e-6, 10},
		{"exponential from a time before 0", condition.GainOptions{Start: -1e-6, DecibelsPerSecond: 2e6}, 9e-6, 10},
		{"two dimensions", condition.GainOptions{Start: 4e-6, Spreading: 0.5}, 16e-6, 2},
		{"three dimensions", condition.GainOptions{Start: 4e-6, Spreading: 1}, 16e-6, 4},
		{"small reflector in three", condition.GainOptions{Start: 4e-6, Spreading: 2}, 16e-6, 16},
		{"both", condition.GainOptions{Start: 4e-6, Spreading: 1, DecibelsPerSecond: 20 / 12e-6}, 16e-6, 40},
		{"limit", condition.GainOptions{Start: 2e-6, DecibelsPerSecond: 1e8, LimitDecibels: 40}, 12e-6, 100},
		{"limit by default", condition.GainOptions{Start: 2e-6, DecibelsPerSecond: 1e9}, 12e-6, 1000},
	} {
		g := must(condition.NewGain(c, row.options))(t)
		near(t, row.name, g.At(row.t)/row.want, 1, 1e-12)
		got := apply(t, c, g).Data
		want := make([]float64, c.Samples)
		for k := range want {
			want[k] = 2 * g.At(c.Time(k))
		}
		nearAll(t, row.name, got, want, 1e-7*2000)
		k := int(math.Round((row.t - c.FirstSample) * c.SampleRate))
		near(t, row.name+", of the trace", float64(got[k])/(2*row.want), 1, 1e-6)
	}
}

// Times beyond all numbers and none at all have a gain and a weight too.
func TestWeightsOfExtremeTimes(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	c := newCapture(t, 1, 2, 50e6, 1.7e308)
	for _, o := range []condition.GainOptions{
		{}, {Start: -1.7e308}, {Start: 5e-324, Spreading: 4, DecibelsPerSecond: 1e9},
	} {
		g := must(condition.NewGain(c, o))(t)
		for _, at := range []float64{-inf, -1.7e308, 0, 1.7e308, inf, nan} {
			if v := g.At(at); !(v >= 1 && v <= 1000) {
				t.Errorf("%+v: gain %v at %v s", o, v, at)
			}
		}
		apply(t, c, g)
	}
	for _, edge := range []float64{0, 1e-8} {
		like := newCapture(t, 1, 10, 50e6, 0)
		taper := must(condition.NewTaper(like, condition.TaperOptions{From: -inf, To: inf, Rise: edge, Fall: edge}))(t)
		for _, at := range []float64{-inf, inf, nan} {
			if v := taper.At(at); v != 0 {
				t.Errorf("edges of %v s: weight %v at %v s, want 0", edge, v, at)
			}
		}
	}
}

// An echo that falls by the law comes out level.
func TestGainLevels(t *testing.T) {
	c := newCapture(t, 1, 1000, 50e6, 2e-6)
	const start, loss = 5e-6, 3e5
	want := make([]float64, c.Samples)
	for k := range want {
		s := max(c.Time(k), start)
		c.Data[k] = float32(start / s * math.Exp(-loss*(s-start)*math.Ln10/20))
		want[k] = 1
	}
	g := must(condition.NewGain(c, condition.GainOptions{Start: start, Spreading: 1, DecibelsPerSecond: loss}))(t)
	nearAll(t, "levelled", apply(t, c, g).Data, want, 1e-6)
}

func TestGainErrors(t *testing.T) {
	c := newCapture(t, 1, 10, 50e6, 0)
	for _, o := range []condition.GainOptions{
		{DecibelsPerSecond: -1}, {DecibelsPerSecond: math.NaN()}, {DecibelsPerSecond: math.Inf(1)},
		{Spreading: -1}, {Spreading: 5, Start: 1}, {Spreading: math.NaN()},
		{Spreading: 1}, {Spreading: 1, Start: -1}, {Start: math.NaN()}, {Start: math.Inf(-1)},
		{Start: 10, DecibelsPerSecond: 1e6}, {DecibelsPerSecond: 0.5}, // in µs, and in dB/µs
		{LimitDecibels: -1}, {LimitDecibels: 201}, {LimitDecibels: math.NaN()},
	} {
		if _, err := condition.NewGain(c, o); err == nil || !strings.HasPrefix(err.Error(), "condition: ") {
			t.Errorf("%+v: error %v", o, err)
		}
	}
}

func TestTaper(t *testing.T) {
	c := newCapture(t, 1, 101, 1e6, 10e-6) // 10 to 110 µs, 1 µs apart
	inf := math.Inf(1)
	for _, row := range []struct {
		name    string
		options condition.TaperOptions
		want    map[int]float64 // weights by sample
	}{
		{"nothing", condition.TaperOptions{From: -inf, To: inf}, map[int]float64{0: 1, 50: 1, 100: 1}},
		{"dead zone, hard", condition.TaperOptions{From: 30e-6, To: inf}, map[int]float64{0: 0, 19: 0, 20: 1, 100: 1}},
		{"dead zone, soft", condition.TaperOptions{From: 30e-6, Rise: 10e-6, To: inf},
			map[int]float64{0: 0, 20: 0, 21: (1 - math.Cos(math.Pi/10)) / 2, 25: 0.5, 30: 1, 100: 1}},
		{"end, hard", condition.TaperOptions{From: -inf, To: 60e-6}, map[int]float64{0: 1, 50: 1, 51: 0}},
		{"end, soft", condition.TaperOptions{From: -inf, To: 60e-6, Fall: 20e-6},
			map[int]float64{0: 1, 30: 1, 40: 0.5, 50: 0, 51: 0}},
		{"both ends of the record", condition.TaperOptions{From: -inf, Rise: 4e-6, To: inf, Fall: 4e-6},
			map[int]float64{0: 0, 2: 0.5, 4: 1, 96: 1, 98: 0.5, 100: 0}},
		{"one sample", condition.TaperOptions{From: 30e-6, To: 30e-6}, map[int]float64{19: 0, 20: 1, 21: 0}},
		{"a Hann window", condition.TaperOptions{From: -inf, Rise: 50e-6, To: inf, Fall: 50e-6},
			map[int]float64{0: 0, 25: 0.5, 50: 1, 75: 0.5, 100: 0}},
	} {
		taper := must(condition.NewTaper(c, row.options))(t)
		for i := range c.Data {
			c.Data[i] = 3
		}
		got := apply(t, c, taper).Data
		for k, want := range row.want {
			near(t, row.name, float64(got[k]), 3*want, 1e-6)
		}
		for k, v := range got {
			near(t, row.name+": At", 3*taper.At(c.Time(k)), float64(v), 1e-6)
		}
	}
}

func TestTaperErrors(t *testing.T) {
	c := newCapture(t, 1, 101, 1e6, 10e-6)
	for name, o := range map[string]condition.TaperOptions{
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
		if _, err := condition.NewTaper(c, o); err == nil || !strings.HasPrefix(err.Error(), "condition: ") {
			t.Errorf("%s: error %v", name, err)
		}
	}
	if _, err := condition.NewOffsetRemoval(c, 1, 2); err == nil {
		t.Error("offset removal with a gate beyond the record: no error")
	}
}

// What an echo adds to a ring-down is left when a capture without the echo is
// subtracted, also where the ring-down is far larger.
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
	got := apply(t, inspected, must(condition.NewSubtraction(quiet))(t))
	nearAll(t, "difference", got.Data, widened(echo.Data), 3e-4)

	// A tapered reference is subtracted up to the end of the ring-down alone.
	end := must(condition.NewTaper(quiet, condition.TaperOptions{From: math.Inf(-1), To: quiet.Time(99)}))(t)
	got = apply(t, inspected, must(condition.NewSubtraction(apply(t, quiet, end)))(t))
	for p := range got.Pairs {
		nearAll(t, "within the ring-down", got.Trace(p)[:100], widened(echo.Trace(p)[:100]), 3e-4)
		nearAll(t, "after the ring-down", got.Trace(p)[100:], widened(inspected.Trace(p)[100:]), 0)
	}
}

func TestSubtractionErrors(t *testing.T) {
	c := noisy(t, 5, 24)
	c.Data[3] = float32(math.NaN())
	if _, err := condition.NewSubtraction(c); err == nil {
		t.Error("reference with NaN: no error")
	}
	if _, err := condition.NewSubtraction(&fmc.Capture{}); err == nil {
		t.Error("empty reference: no error")
	}
}
