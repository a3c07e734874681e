// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
)

// TestBand wants the edges of bands by hand: a quarter of the greatest power, to a fraction
// of a step.
func TestBand(t *testing.T) {
	for _, row := range []struct {
		name     string
		power    []float64
		from, to float64 // steps; NaN is not known
	}{
		{"between steps", []float64{0, 1, 3, 8, 5, 1, 0}, 1.5, 4.75},
		{"on steps", []float64{0, 2, 8, 2, 0}, 1, 3},
		{"to the ends", []float64{2, 8, 0}, 0, 1.75},
		{"no fall below", []float64{3, 8, 0, 0}, math.NaN(), math.NaN()},
		{"no fall above", []float64{0, 0, 8, 3}, math.NaN(), math.NaN()},
		{"one step", []float64{8}, math.NaN(), math.NaN()},
		{"zeros", []float64{0, 0, 0}, math.NaN(), math.NaN()},
	} {
		a := &assessment{capture: &fmc.Capture{SampleRate: 2 * float64(len(row.power)-1)}} // steps of 1 Hz
		centre, width := a.band(row.power)
		if math.IsNaN(row.from) {
			if centre.Known() || width.Known() {
				t.Errorf("%s: centre %v, width %v: want neither known", row.name, centre, width)
			}
			continue
		}
		wantCentre := (row.from + row.to) / 2
		wantWidth := (row.to - row.from) / wantCentre
		if !(math.Abs(float64(centre)-wantCentre) <= 1e-12) || !(math.Abs(float64(width)-wantWidth) <= 1e-12) {
			t.Errorf("%s: centre %v, width %v: want %v, %v", row.name, centre, width, wantCentre, wantWidth)
		}
	}
}

// TestCut: both ends of a gate that lie on samples belong to it, however their times round.
func TestCut(t *testing.T) {
	c := &fmc.Capture{SampleRate: 50e6, FirstSample: -0.624635e-6, Samples: 2000}
	for k := range c.Samples - 5 {
		if diff := cmp.Diff(window{k, k + 6}, cut(c, Gate{c.Time(k), c.Time(k + 5)}), cmp.AllowUnexported(window{})); diff != "" {
			t.Fatalf("samples %d to %d, want (-) and got (+):\n%s", k, k+5, diff)
		}
	}
	unit := &fmc.Capture{SampleRate: 1, Samples: 10}
	for _, row := range []struct {
		gate Gate
		want window
	}{
		{Gate{1.5, 3.5}, window{2, 4}},
		{Gate{-5, 20}, window{0, 10}},
		{Gate{3.2, 3.8}, window{}},
		{Gate{9, 20}, window{9, 10}},
		{Gate{10, 20}, window{}},
	} {
		if got := cut(unit, row.gate); got != row.want {
			t.Errorf("%v: %v, want %v", row.gate, got, row.want)
		}
	}
}

// TestTurn: the majority becomes positive, in a tie the first.
func TestTurn(t *testing.T) {
	for _, row := range []struct{ given, want []float64 }{
		{[]float64{1, -1, 1}, []float64{1, -1, 1}},
		{[]float64{1, -1, -1}, []float64{-1, 1, 1}},
		{[]float64{-1, 1, 1}, []float64{-1, 1, 1}},
		{[]float64{-1, 1}, []float64{1, -1}},
		{[]float64{1, -1}, []float64{1, -1}},
	} {
		tree := make([]int, len(row.given))
		for e := range tree {
			tree[e] = e
		}
		got := append([]float64(nil), row.given...)
		turn(tree, got)
		if diff := cmp.Diff(row.want, got); diff != "" {
			t.Errorf("%v:\n%s", row.given, diff)
		}
	}
}

// TestHalfWidth wants half-widths with the quantile of Student's t for the number of values: 12.706,
// 3.182 and 2.365 for 1, 3 and 7 degrees of freedom (NIST/SEMATECH e-Handbook, table 1.3.6.7.2).
// The values ±1 have the standard deviation √(n/(n-1)), so the half-width is t/√(n-1).
func TestHalfWidth(t *testing.T) {
	for _, row := range []struct {
		values []float64
		want   float64
	}{
		{[]float64{-1, 1}, 12.706},
		{[]float64{-1, 1, -1, 1}, 3.182 / math.Sqrt(3)},
		{[]float64{-1, 1, -1, 1, -1, 1, -1, 1}, 2.365 / math.Sqrt(7)},
	} {
		if got := halfWidth(row.values); !(math.Abs(got-row.want) <= 1e-3*row.want) {
			t.Errorf("%d values: half-width %v, want %v", len(row.values), got, row.want)
		}
	}
	for n := range 2 {
		if got := halfWidth(make([]float64, n)); !math.IsNaN(got) {
			t.Errorf("%d values: half-width %v, want NaN", n, got)
		}
	}
}
