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

// frame returns the half matrix of 16 elements: 136 traces of 2,048 samples at 62.5 MHz.
func frame(b *testing.B) *fmc.Capture {
	c := newCapture(b, 16, 2048, 62.5e6, 0)
	noise(c.Data, 51)
	return c
}

func BenchmarkChain(b *testing.B) {
	c := frame(b)
	usual := []condition.Step{
		condition.OffsetRemoval{From: math.Inf(-1), To: math.Inf(1)},
		condition.Gain{Start: 2e-6, Spreading: 1, DecibelsPerSecond: 3e5},
		condition.Window{From: 1e-6, Rise: 0.5e-6, To: math.Inf(1), Fall: 1e-6},
	}
	for _, row := range []struct {
		name  string
		steps []condition.Step
	}{
		{"usual", usual},
		{"offset", usual[:1]},
		{"gain", usual[1:2]},
		{"window", usual[2:]},
		{"subtraction", []condition.Step{condition.Subtraction{Reference: c}}},
		{"band-pass", []condition.Step{condition.BandPass{}}},
		{"matched", []condition.Step{condition.MatchedFilter{Pulse: c.Data[:60], Centre: 30}}},
	} {
		b.Run("steps="+row.name, func(b *testing.B) {
			chain, dst := chained(c, row.steps...), clone(c)
			b.SetBytes(int64(4 * len(c.Data)))
			for b.Loop() {
				if err := chain.Apply(dst, c); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkAverage(b *testing.B) {
	c := frame(b)
	average := check.Must(condition.NewAverage(c))
	b.SetBytes(int64(4 * len(c.Data)))
	for b.Loop() {
		if err := average.Add(c); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkResampler(b *testing.B) {
	c := frame(b)
	r := check.Must(condition.NewResampler(c, 8, 5))
	dst := check.Must(r.Resampled(c))
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
