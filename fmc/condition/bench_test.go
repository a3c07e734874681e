// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
)

// The half matrix of 16 elements, 136 traces of 2,048 samples at 62.5 MHz.
func frame(b *testing.B) *fmc.Capture {
	c := newCapture(b, 16, 2048, 62.5e6, 0)
	noise(c.Data, 51)
	return c
}

func usualChain(b *testing.B, c *fmc.Capture) []condition.Step {
	return []condition.Step{
		must(condition.NewOffsetRemoval(c, math.Inf(-1), math.Inf(1)))(b),
		must(condition.NewGain(c, condition.GainOptions{Start: 2e-6, Spreading: 1, DecibelsPerSecond: 3e5}))(b),
		must(condition.NewTaper(c, condition.TaperOptions{From: 1e-6, Rise: 0.5e-6, To: math.Inf(1), Fall: 1e-6}))(b),
	}
}

func BenchmarkChain(b *testing.B) {
	c := frame(b)
	usual := usualChain(b, c)
	for _, row := range []struct {
		name  string
		steps []condition.Step
	}{
		{"usual", usual},
		{"offset", usual[:1]},
		{"gain", usual[1:2]},
		{"taper", usual[2:]},
		{"subtraction", []condition.Step{must(condition.NewSubtraction(c))(b)}},
		{"band-pass", []condition.Step{must(condition.NewBandPass(c, nil))(b)}},
		{"matched", []condition.Step{must(condition.NewMatchedFilter(c, c.Data[:60], 30))(b)}},
	} {
		b.Run("steps="+row.name, func(b *testing.B) {
			chain := must(condition.NewChain(row.steps...))(b)
			dst, scratch := clone(c), chain.NewScratch()
			b.SetBytes(int64(4 * len(c.Data)))
			for b.Loop() {
				if err := chain.Apply(dst, c, scratch); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkAverage(b *testing.B) {
	c := frame(b)
	average := must(condition.NewAverage(c))(b)
	b.SetBytes(int64(4 * len(c.Data)))
	for b.Loop() {
		if err := average.Add(c); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkResampler(b *testing.B) {
	c := frame(b)
	r := must(condition.NewResampler(c, 8, 5))(b)
	dst := must(r.Resampled(c))(b)
	b.SetBytes(int64(4 * len(dst.Data)))
	for b.Loop() {
		if err := r.Apply(dst, c); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSaturation(b *testing.B) {
	c := frame(b)
	reports := make([]condition.Saturation, 0, len(c.Pairs))
	b.SetBytes(int64(4 * len(c.Data)))
	for b.Loop() {
		var err error
		if reports, err = condition.AppendSaturations(reports[:0], c, -100, 100); err != nil {
			b.Fatal(err)
		}
	}
}
